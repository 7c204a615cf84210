"""What a lamp file may say but hardly means: sentences for warnings, no errors."""

from collections.abc import Iterator

from derate.lamp.controller import Foldback, Steps
from derate.lamp.lamp import Lamp


def doubts(lamp: Lamp) -> tuple[str, ...]:
    """Sentences about settings that work but should be looked at, each with its key."""
    return tuple(_doubts(lamp))


def _doubts(lamp: Lamp) -> Iterator[str]:
    control = lamp.controller
    match control.policy:
        case Steps(levels=levels):
            for number, level in enumerate(levels, start=1):
                if level.at_c >= control.cutoff_c:
                    yield (
                        f"controller.policy.levels[entry {number}].at: {level.at_c:g} degC is never"
                        f" reached, the cut-off of {control.cutoff_c:g} degC darkens the lamp first"
                    )
        case Foldback(end_c=end_c) if end_c > control.cutoff_c:
            yield (
                f"controller.policy.end: {end_c:g} degC is never reached, the cut-off of"
                f" {control.cutoff_c:g} degC darkens the lamp first"
            )
    period_s, driver = lamp.timing.control_period_s, lamp.driver
    if driver.dimming == "pwm" and driver.frequency_hz * period_s < 1.0:
        yield (
            f"driver.frequency: a PWM period of {1.0 / driver.frequency_hz:g} s is longer than the"
            f" control period of {period_s:g} s; light and heat are means over it"
        )
    if len(lamp.sensors) == 2 and control.disagreement_k is None:
        yield (
            "controller.disagreement: not given, so one of the two sensors may drift unseen as long"
            " as the other reads hotter"
        )
