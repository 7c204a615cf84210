"""Every surface that sheds heat at rest: how much by which way, and where its fan works."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.surface import Given
from derate.plant.rest import Rest
from derate.plant.surface import bank, fan, flat
from derate.plant.surface.bank import Bank
from derate.plant.surface.bodies import Body, bodies_of
from derate.plant.surface.climate import Climate, climate_of
from derate.study.operating import Operating
from derate.study.passage import of_surfaces

Array = NDArray[np.float64]

LEAST_RISE_K = 1e-3
"""A surface no warmer than this has no coefficients worth telling."""
FLOWS = 61
"""Points of a fan's curve."""


@dataclass(frozen=True, eq=False)
class FanPoint:
    """Where a fan and the channels between the fins meet, ``at_m3_per_s`` and ``at_pa``.

    ``flow_m3_per_s`` (n): up to what the fan delivers freely at the airflow of the point;
    ``fan_pa``, ``channels_pa`` (n) [Pa]: pressure given, and pressure that the flow takes.
    """

    at_m3_per_s: float
    at_pa: float
    flow_m3_per_s: Array
    fan_pa: Array
    channels_pa: Array


@dataclass(frozen=True, eq=False)
class SurfacePoint:
    """One surface, or one face of the board, at rest; nan for what it does not have.

    ``name``: as in a heat path; ``temperature_c``, ``partner_c`` [degC]: of the node (of the
    board's mean for a face) and of the ambient ``partner``; ``area_m2``: all that is wetted, fins
    on both sides. ``convection_w`` and ``radiation_w`` [W] are the parts of ``heat_w``; the
    coefficients [W/(m^2 K)] are each part over area and rise, so that those of fins hold the
    ``fin_efficiency``, while ``film_w_per_m2_k`` is that of the air between the fins.
    ``air_rise_k`` [K]: how much warmer blown air leaves the fins.
    """

    name: str
    node: str
    partner: str
    temperature_c: float
    partner_c: float
    area_m2: float
    heat_w: float
    convection_w: float
    radiation_w: float
    convection_w_per_m2_k: float
    radiation_w_per_m2_k: float
    fin_efficiency: float = np.nan
    film_w_per_m2_k: float = np.nan
    speed_m_per_s: float = np.nan
    air_rise_k: float = np.nan
    fan: FanPoint | None = None


def surface_points(lamp: Operating, rest: Rest) -> tuple[SurfacePoint, ...]:
    """Every surface in the order of the file, then the board's faces; none in a runaway."""
    return () if rest.runaway else tuple(_points(lamp, rest))


def _points(lamp: Operating, rest: Rest) -> Iterator[SurfacePoint]:
    exchange = lamp.resting.assembly.exchange
    for s, (body, way) in enumerate(
        zip(bodies_of(lamp.lamp), of_surfaces(lamp, rest), strict=True)
    ):
        surface_c = float(rest.node_c[exchange.node[s]])
        partner_c = float(rest.ambient_c[exchange.ambient[s]])
        rise_k = surface_c - partner_c
        climate = climate_of(body.fluid, abs(rise_k), partner_c, lamp.airflow)
        area_m2, radiating = _area_m2(body), _share_radiated(body, climate)
        convection_w, radiation_w = (1.0 - radiating) * way.heat_w, radiating * way.heat_w
        over = area_m2 * rise_k if abs(rise_k) >= LEAST_RISE_K else np.nan
        yield SurfacePoint(
            way.what,
            body.node,
            body.ambient,
            surface_c,
            partner_c,
            area_m2,
            way.heat_w,
            convection_w,
            radiation_w,
            convection_w / over,
            radiation_w / over,
            **_between_fins(body, climate, convection_w)._asdict(),
        )


def _area_m2(body: Body) -> float:
    match body.shape:
        case Given():
            return np.nan
        case Bank():
            return body.shape.wetted_m2
        case faces:
            return flat.area_m2(faces)


def _share_radiated(body: Body, climate: Climate) -> float:
    """The share of a body's heat that is radiated, by the formulas; nan where it is not known."""
    if isinstance(body.shape, Given):
        return np.nan
    whole = float(body.beyond_black_w_per_k(climate))
    black = float(body.black_m2 * climate.radiating_w_per_m2_k)
    fins = 0.0
    if isinstance(body.shape, Bank):
        fins = body.factor * float(bank.shed_of(body.shape, climate).radiation_w_per_k)
    return (black + fins) / (black + whole) if black + whole else np.nan


class _BetweenFins(NamedTuple):
    """Fields of a ``SurfacePoint`` that only a bank of fins has, but for the speed."""

    fin_efficiency: float = np.nan
    film_w_per_m2_k: float = np.nan
    speed_m_per_s: float = np.nan
    air_rise_k: float = np.nan
    fan: FanPoint | None = None


def _between_fins(body: Body, climate: Climate, convection_w: float) -> _BetweenFins:
    shape = body.shape
    if not isinstance(shape, Bank):
        blown = body.speed_m_per_s is not None
        return _BetweenFins(
            speed_m_per_s=float((body.speed_m_per_s or 0.0) * climate.airflow) if blown else np.nan
        )
    speed, rise_k = bank.speed_m_per_s(shape, climate), np.nan
    speed_m_per_s = np.nan if speed is None else float(speed)
    if speed_m_per_s > 0.0:
        flow_m3_per_s = speed_m_per_s * shape.ducts.section_m2
        rise_k = convection_w / (flow_m3_per_s * float(climate.film.capacity_j_per_m3_k))
    return _BetweenFins(
        float(bank.shed_of(shape, climate).efficiency),
        float(bank.films_of(shape, climate).inside),
        speed_m_per_s,
        rise_k,
        _fan(shape, climate, speed_m_per_s) if shape.free_m3_per_s else None,
    )


def _fan(shape: Bank, climate: Climate, speed_m_per_s: float) -> FanPoint | None:
    """Both curves and their crossing; None where the fan stands still."""
    free_m3_per_s, ducts = shape.free_m3_per_s, shape.ducts
    if free_m3_per_s is None or not speed_m_per_s > 0.0:
        return None
    flow = np.linspace(0.0, free_m3_per_s * float(climate.airflow), FLOWS)
    speed = flow / ducts.section_m2
    given_pa = fan.pressure_given_pa(
        speed, climate.airflow, ducts, free_m3_per_s=free_m3_per_s, shut_off_pa=shape.shut_off_pa
    )
    at_pa = fan.pressure_drop_pa(climate.film, np.asarray(speed_m_per_s), ducts)[0]
    return FanPoint(
        speed_m_per_s * ducts.section_m2,
        float(at_pa),
        flow,
        given_pa,
        fan.pressure_drop_pa(climate.film, speed, ducts)[0],
    )
