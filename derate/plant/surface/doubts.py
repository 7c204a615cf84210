"""Where a lamp's surfaces lie outside what their correlations are known for: sentences."""

from collections.abc import Iterator

import numpy as np

from derate.lamp.lamp import Lamp
from derate.lamp.surface import Given
from derate.plant.surface import bank, channel, forced, natural
from derate.plant.surface.bank import Bank
from derate.plant.surface.bodies import Body, bodies_of
from derate.plant.surface.climate import Climate, climate_of
from derate.plant.surface.exchange import AMBIENT_C
from derate.plant.surface.fin import THICK
from derate.plant.surface.flat import Flat

USUAL_RISE_K = {"air": (10.0, 60.0), "water": (2.0, 20.0)}
"""Rises between which a lamp's surfaces are judged, at 25 degC and airflow 1."""
USUAL_C = 25.0
_RANGES = {
    "side": natural.VERTICAL_RAYLEIGH,
    "up": natural.UP_RAYLEIGH,
    "down": natural.DOWN_RAYLEIGH,
}


def doubts_of_surfaces(lamp: Lamp) -> list[str]:
    """One sentence, led by its key, for each surface and range that is left."""
    said = []
    for body in bodies_of(lamp):
        said += [f"{body.key}: {text}" for text in _doubts(body)]
        said += [f"{body.key}: {text}" for text in _ambients(lamp, body)]
    return list(dict.fromkeys(said))


def _doubts(body: Body) -> Iterator[str]:
    climate = climate_of(body.fluid, np.array(USUAL_RISE_K[body.fluid.name]), USUAL_C, 1.0)
    match body.shape:
        case Given():
            return
        case Bank():
            yield from _bank(body.shape, climate)
        case faces:
            for face in faces:
                yield from _flat(face, body.speed_m_per_s, climate)


def _flat(face: Flat, speed_m_per_s: float | None, climate: Climate) -> Iterator[str]:
    length = face.height_m if face.facing == "side" else face.lying_m
    found = natural.rayleigh(climate.film, climate.rise_k, length)
    low, high = _RANGES[face.facing]
    looks = "to the side" if face.facing == "side" else face.facing
    known = f"(Rayleigh number {_span(found)}, known from {_short(low)} to {_short(high)})"
    if found.min() < low:
        yield f"a face looking {looks} is small for its correlation {known}; it sheds rather more"
    if found.max() > high:
        yield f"a face looking {looks} is large for its correlation {known}; it is extrapolated"
    if speed_m_per_s is not None:
        reynolds = (speed_m_per_s * face.along_m / climate.film.viscosity_m2_per_s).max()
        if reynolds > forced.PLATE_REYNOLDS:
            yield (
                f"the airflow is fast for its correlation (Reynolds number {_short(reynolds)},"
                f" known to {_short(forced.PLATE_REYNOLDS)}); it is extrapolated"
            )


def _bank(fins: Bank, climate: Climate) -> Iterator[str]:
    if fins.height_m < fins.gap_m:
        yield (
            f"fins of {fins.height_m * 1e3:.3g} mm stand {fins.gap_m * 1e3:.3g} mm apart, but the"
            " channels between them are computed as deeper than wide"
        )
    if fins.facing == "down":
        yield (
            "no correlation is known for fins that hang down; their natural convection is estimated"
            f" at {channel.DOWN_SHARE:.0%} of that of standing ones"
        )
    if fins.facing != "side":
        low, high = channel.LYING_RAYLEIGH
        found = natural.rayleigh(climate.film, climate.rise_k, fins.gap_m)
        if found.min() < low or found.max() > high:
            yield (
                f"the gap of {fins.gap_m * 1e3:.3g} mm lies outside the correlation of lying fins"
                f" (Rayleigh number {_span(found)}, known from {_short(low)} to {_short(high)});"
                " it is extrapolated"
            )
    films = bank.films_of(fins, climate)
    thick = films.inside.max() * fins.thickness_m / fins.conductivity_w_per_m_k
    if thick > THICK:
        yield (
            f"heat does not spread across fins of so little conductivity (Biot number {thick:.2g},"
            f" due below {THICK:g}); their efficiency is overstated"
        )
    yield from _blown(fins, climate)


def _blown(fins: Bank, climate: Climate) -> Iterator[str]:
    speed = bank.speed_m_per_s(fins, climate)
    if speed is None:
        return
    reynolds = (speed * 2.0 * fins.gap_m / climate.film.viscosity_m2_per_s).max()
    if reynolds > channel.LAMINAR_REYNOLDS:
        yield (
            f"flow between the fins is turbulent (Reynolds number {_short(reynolds)},"
            f" laminar to {_short(channel.LAMINAR_REYNOLDS)}), but computed as laminar; it sheds"
            " rather more"
        )
    elif reynolds / 2.0 * fins.gap_m / fins.length_m > channel.BLOWN_REYNOLDS:
        yield (
            "the channels are short and wide for the correlation of flow between fins; they are"
            " computed much like lone plates"
        )


def _ambients(lamp: Lamp, body: Body) -> Iterator[str]:
    """An ambient that leaves the tables: convection keeps the values of their end."""
    low, high = AMBIENT_C[body.fluid.name]
    for name, profile in lamp.profiles.items():
        reached = profile.ambient_courses(lamp.ambients)[body.ambient].knots
        if not isinstance(body.shape, Given) and not low <= min(reached) <= max(reached) <= high:
            yield (
                f"profile {name} leads ambient {body.ambient} from {min(reached):g} to"
                f" {max(reached):g} degC; convection in {body.fluid.name} is computed from {low:g}"
                f" to {high:g} degC and keeps its value outside"
            )


def _span(values: np.ndarray) -> str:
    return f"{_short(values.min())} to {_short(values.max())}"


def _short(value: float) -> str:
    return f"{value:.2g}".replace("e+0", "e").replace("e+", "e")
