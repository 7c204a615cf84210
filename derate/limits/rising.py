"""Whether heat rises with command: if it does not, less light may be hotter than full light."""

from itertools import pairwise

from derate.lamp.lamp import Lamp


def not_rising(lamp: Lamp) -> tuple[str, ...]:
    """A sentence for each emitter whose heat falls somewhere as its current rises.

    Heat V(I) I - Phi(I) between the currents of its curves, both at the reference junction
    temperature. Under PWM the current is one and heat is in proportion to duty: none.
    """
    if lamp.driver.dimming == "pwm":
        return ()
    found = []
    for name in dict.fromkeys(channel.emitter for channel in lamp.channels.values()):
        emitter = lamp.emitters[name]
        heats_w = [
            current_a * voltage_v - radiant_w
            for current_a, voltage_v, radiant_w in zip(
                emitter.current_a, emitter.forward_voltage_v, emitter.radiant_flux_w, strict=True
            )
        ]
        for (low_a, low_w), (high_a, high_w) in pairwise(
            zip(emitter.current_a, heats_w, strict=True)
        ):
            if high_w <= low_w:
                found.append(
                    f"the heat of emitter {name} does not rise from {low_a:g} A to {high_a:g} A:"
                    " dimming may then heat, and nothing that rests on less command being cooler"
                    " holds"
                )
                break
    return tuple(found)
