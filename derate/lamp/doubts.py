"""What a lamp file may say but hardly means: sentences for warnings, no errors."""

from collections.abc import Iterator

from derate.lamp.board import Board
from derate.lamp.controller import Foldback, Predictive, Steps
from derate.lamp.lamp import Lamp
from derate.lamp.material import canonical
from derate.lamp.outline import distance_m, mm
from derate.lamp.surface import Box, Fins, Plate

CERAMICS = ("alumina", "aluminium_nitride")
"""Cores that conduct heat well and no electricity."""
METAL_W_PER_M_K = 10.0
"""What conducts heat better than this and is no ceramic is a metal [W/(m K)]."""
MUCH_LARGER = 1.2
"""A partner of more than so many times the area of the board must spread the heat first [-]."""


FLUXES_OFF = 0.15
"""So far from the fluxes' lumens per radiant watt a spectrum may be: data sheets are read so well,
and the peak follows the current a little [-]."""


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
        case Predictive() if control.attack_per_s is not None:
            yield (
                'controller.attack: the policy "predictive" counts on a limit that falls at once;'
                " while it still falls, places may pass their limits"
            )
    period_s, driver = lamp.timing.control_period_s, lamp.driver
    if driver.dimming == "pwm" and driver.frequency_hz * period_s < 1.0:
        yield (
            f"driver.frequency: a PWM period of {1.0 / driver.frequency_hz:g} s is longer than the"
            f" control period of {period_s:g} s; light and heat are means over it"
        )
    yield from _spectra(lamp)
    if lamp.board is not None:
        yield from _insulation(lamp, lamp.board)
        yield from _mounting(lamp, lamp.board)
        yield from _slips(lamp, lamp.board)
    if len(lamp.sensors) == 2 and control.disagreement_k is None:
        yield (
            "controller.disagreement: not given, so one of the two sensors may drift unseen as long"
            " as the other reads hotter"
        )


def _spectra(lamp: Lamp) -> Iterator[str]:
    """A spectrum whose lumens per watt are not those of the fluxes beside it."""
    for name, emitter in lamp.emitters.items():
        if emitter.spectrum is None:
            continue
        fluxes = zip(emitter.luminous_flux_lm, emitter.radiant_flux_w, strict=True)
        by_flux = sorted(light_lm / light_w for light_lm, light_w in fluxes)
        given = emitter.spectrum.efficacy_lm_per_w
        low, high = by_flux[0] * (1.0 - FLUXES_OFF), by_flux[-1] * (1.0 + FLUXES_OFF)
        if not low <= given <= high:
            yield (
                f"emitters.{name}.spectrum: is worth {given:.0f} lm for each radiant watt, while"
                f" luminous_flux and radiant_flux say {by_flux[0]:.0f} to {by_flux[-1]:.0f}"
            )


def _insulation(lamp: Lamp, board: Board) -> Iterator[str]:
    """A metal core under pads or around vias, with nothing between."""
    material = board.core.material
    conductivity = lamp.material(material).through_conductivity_w_per_m_k
    if conductivity < METAL_W_PER_M_K or canonical(material) in CERAMICS:
        return
    if board.dielectric is None and any(
        part.at is not None and part.pad_on == "dielectric" for part in lamp.channels.values()
    ):
        yield (
            f"board.dielectric: not given, so pads stand on the bare {material}; a metal core"
            " needs an insulating layer, and without one the board is computed too cool"
        )
    if board.vias is not None:
        yield f"board.vias: plated holes through a core of {material}, which if a metal shorts them"


def _slips(lamp: Lamp, board: Board) -> Iterator[str]:
    """What a drawing hardly means: copper thicker than its core, a thermistor below an emitter."""
    for key, layer in (("copper", board.copper), ("bottom_copper", board.bottom_copper)):
        if layer is not None and layer.thickness_m > board.core.thickness_m:
            yield (
                f"board.{key}.thickness: {mm(layer.thickness_m)} is more than the core's"
                f" {mm(board.core.thickness_m)}"
            )
    for name, sensor in lamp.sensors.items():
        for where, channel in lamp.channels.items():
            footprint_m = lamp.emitters[channel.emitter].footprint_m
            if isinstance(sensor.at, str) or footprint_m is None:
                continue
            if any(distance_m(sensor.at, at, footprint_m) == 0.0 for at in channel.at or ()):
                yield f"sensors.{name}.at: below an emitter of channel {where}, where none fits"


def _mounting(lamp: Lamp, board: Board) -> Iterator[str]:
    """A partner much larger than the board without its plate, or smaller than the board."""
    interface = board.interface
    if interface is None or interface.base is not None:
        return
    left, low, right, high = board.bounds_m
    x_m, y_m = right - left, high - low
    for name, surface in lamp.surfaces.items():
        if surface.of != interface.to or not isinstance(surface, Plate | Fins | Box):
            continue
        one_m, other_m = sorted(surface.size_m)[-2:]
        if one_m * other_m > MUCH_LARGER * x_m * y_m:
            yield (
                f"board.interface.base: not given although surface {name} is larger than the"
                " board; how the heat spreads in its plate is left out, which is optimistic"
            )
        elif isinstance(surface, Fins) and (one_m < min(x_m, y_m) or other_m < max(x_m, y_m)):
            yield f"surfaces.{name}.size: smaller than the board that is mounted on it"
