"""Heat from surfaces into their ambients, as tables that the kernel looks up.

    Q = sigma A_b (T_s^4 - T_a^4) + (N^3 + F^3)^(1/3) (T_s - T_a)

with A_b the black area and T in kelvin in the first term. N [W/K] is the conductance beyond it
without airflow (convection, and radiation from fins, which are not as hot as their base), a table
over rise^p and ambient; F [W/K] what airflow adds, its root times a table over rise^p, ambient and
the fourth root. In these coordinates both are nearly straight: free convection goes as rise^(1/4),
forced as the root of the speed, or as the speed in narrow channels. Outside their tables N and F
keep their values, so that Q goes on rising with the surface's temperature; beyond the strongest
airflow F goes on as its root.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.lamp.surface import Given
from derate.plant.kernel import inlined
from derate.plant.surface.bodies import Body, bodies_of
from derate.plant.surface.climate import climate_of
from derate.plant.surface.fluid import KELVIN
from derate.plant.surface.radiation import STEFAN_BOLTZMANN_W_PER_M2_K4
from derate.plant.surface.uneven import Uneven, together

Array = NDArray[np.float64]

HIGHEST_RISE_K = 250.0
AMBIENT_C = {"air": (-40.0, 100.0), "water": (0.0, 42.0)}
STRONGEST_AIRFLOW = 16.0
"""Ends of the tables: rise [K], ambient [degC], airflow [-]."""
RISES, AMBIENTS, AIRFLOWS = 97, 57, 113
"""Nodes of the tables, evenly spaced in their coordinates."""
COARSE = 4
"""Cells of the natural table to one of the forced table along the rise: there it matters less."""
FORCED_RISES, FORCED_AMBIENTS = (RISES - 1) // COARSE + 1, (AMBIENTS - 1) // COARSE + 1
AIRFLOWS_PER_UNIT = (AIRFLOWS - 1) / STRONGEST_AIRFLOW**0.25
CALM = 1e-6
"""Airflow [-] whose quotient stands for the limit at none."""
FREE_POWER = 0.25
"""Natural convection grows as the rise to this power [-]."""
REFERENCE_RISE_K, REFERENCE_C, REFERENCE_AIRFLOW = 30.0, 25.0, 1.0
"""Where the conductance is taken that stands in the linear network."""
STILL = -1


class Exchange(NamedTuple):
    """Surfaces S of a lamp; those that airflow reaches have a row in ``forced_w_per_k``.

    ``node``, ``ambient`` (S): indices; ``reference_w_per_k`` (S): Q / rise at 30 K, 25 degC and
    airflow 1; ``black_m2`` (S): A_b; ``power`` (S): p [-]; ``rises_per_unit`` (S): nodes per unit
    of rise^p; ``coldest_c``, ``ambients_per_k`` (S): first node of the ambients, nodes per kelvin;
    ``row`` (S): row in ``forced_w_per_k`` or STILL; ``natural_w_per_k`` (S, RISES, AMBIENTS): N;
    ``forced_w_per_k`` (rows, FORCED_RISES, FORCED_AMBIENTS, AIRFLOWS): F over the airflow's root,
    nodes even in the fourth root of the airflow. Of P patterns in which surfaces are unevenly warm,
    as in ``derate.plant.surface.uneven``: ``patterns`` (S + 1), where those of each surface begin,
    and ``cubes``.
    """

    node: NDArray[np.int64]
    ambient: NDArray[np.int64]
    reference_w_per_k: Array
    black_m2: Array
    power: Array
    rises_per_unit: Array
    coldest_c: Array
    ambients_per_k: Array
    row: NDArray[np.int64]
    natural_w_per_k: Array
    forced_w_per_k: Array
    patterns: NDArray[np.int64]
    cubes: Array

    @property
    def inputs(self) -> int:
        """Heat inputs that correct what surfaces shed: one for each, and one for each pattern."""
        return len(self.node) + len(self.cubes)


def exchange_of(
    lamp: Lamp, node_index: Mapping[str, int], uneven: Sequence[Uneven] = ()
) -> Exchange:
    """Tables of all surfaces of ``lamp``, then of its board's front and back (node "board").

    ``uneven``: patterns of the last surfaces, one entry each.
    """
    bodies = bodies_of(lamp)
    patterns, cubes = together(len(bodies), uneven)
    ambients = {name: i for i, name in enumerate(lamp.ambients)}
    moved = np.array([body.moved for body in bodies], dtype=bool)
    airflow = (np.arange(AIRFLOWS) / AIRFLOWS_PER_UNIT) ** 4
    power = np.array([_power(body) for body in bodies])
    ends_c = np.array([AMBIENT_C[body.fluid.name] for body in bodies]).reshape(-1, 2)
    natural = [_natural(body) for body in bodies]
    forced = [
        _forced(body, still, airflow)
        for body, still in zip(bodies, natural, strict=True)
        if body.moved
    ]
    return Exchange(
        node=np.array([node_index[body.node] for body in bodies], dtype=np.int64),
        ambient=np.array([ambients[body.ambient] for body in bodies], dtype=np.int64),
        reference_w_per_k=np.array([reference_w_per_k(body) for body in bodies]),
        black_m2=np.array([body.black_m2 for body in bodies]),
        power=power,
        rises_per_unit=(RISES - 1) / HIGHEST_RISE_K**power,
        coldest_c=ends_c[:, 0].copy(),
        ambients_per_k=(AMBIENTS - 1) / (ends_c[:, 1] - ends_c[:, 0]),
        row=np.where(moved, np.cumsum(moved) - 1, STILL).astype(np.int64),
        natural_w_per_k=np.array(natural).reshape(-1, RISES, AMBIENTS),
        forced_w_per_k=np.array(forced).reshape(-1, FORCED_RISES, FORCED_AMBIENTS, AIRFLOWS),
        patterns=patterns,
        cubes=cubes,
    )


def reference_w_per_k(body: Body) -> float:
    """Conductance of a body at 30 K over 25 degC and airflow 1 [W/K]."""
    ambient_c = np.array(REFERENCE_C)
    heat_w = body.heat_w(ambient_c + REFERENCE_RISE_K, ambient_c, np.array(REFERENCE_AIRFLOW))
    return float(heat_w) / REFERENCE_RISE_K


def _power(body: Body) -> float:
    """The power p with which the conductance of a body grows with the rise, as far as known."""
    known = body.shape.exponent if isinstance(body.shape, Given) else 0.0
    return known or FREE_POWER


def _axes(body: Body) -> tuple[Array, Array]:
    rise_k = HIGHEST_RISE_K * np.linspace(0.0, 1.0, RISES) ** (1.0 / _power(body))
    return rise_k, np.linspace(*AMBIENT_C[body.fluid.name], AMBIENTS)


def _natural(body: Body) -> Array:
    rise_k, ambient_c = _axes(body)
    climate = climate_of(body.fluid, rise_k[:, None], ambient_c, 0.0)
    return np.broadcast_to(body.beyond_black_w_per_k(climate), (RISES, AMBIENTS))


def _forced(body: Body, natural: Array, airflow: Array) -> Array:
    rise_k, ambient_c = _axes(body)
    airflow = np.maximum(airflow, CALM)
    rise_k, ambient_c = rise_k[::COARSE, None, None], ambient_c[::COARSE, None]
    climate = climate_of(body.fluid, rise_k, ambient_c, airflow)
    both = body.beyond_black_w_per_k(climate)
    return np.cbrt(both**3 - natural[::COARSE, ::COARSE, None] ** 3) / np.sqrt(airflow)


@inlined
def heat_out_w(
    exchange: Exchange, s: int, surface_c: float, ambient_c: float, airflow: float
) -> float:
    """Heat [W] from surface ``s`` at ``surface_c`` into its ambient at ``ambient_c`` [degC].

    ``airflow``: factor [-]. Zero at equal temperatures, rising with the surface's.
    """
    return sheds_w_per_k(exchange, s, surface_c, ambient_c, airflow) * (surface_c - ambient_c)


@inlined
def sheds_w_per_k(
    exchange: Exchange, s: int, surface_c: float, ambient_c: float, airflow: float
) -> float:
    """The same per kelvin of rise [W/K], also where there is none."""
    rise_k = surface_c - ambient_c
    power = exchange.power[s]
    root = np.sqrt(np.sqrt(abs(rise_k))) if power == 0.25 else abs(rise_k) ** power
    place = root * exchange.rises_per_unit[s]
    i, x = _cell(place, RISES)
    climate = (ambient_c - exchange.coldest_c[s]) * exchange.ambients_per_k[s]
    j, y = _cell(climate, AMBIENTS)
    table = exchange.natural_w_per_k
    low = table[s, i, j] + y * (table[s, i, j + 1] - table[s, i, j])
    high = table[s, i + 1, j] + y * (table[s, i + 1, j + 1] - table[s, i + 1, j])
    conductance = low + x * (high - low)
    if exchange.row[s] != STILL and airflow > 0.0:
        strength = np.sqrt(airflow)
        i, x = _cell(place * (1.0 / COARSE), FORCED_RISES)
        j, y = _cell(climate * (1.0 / COARSE), FORCED_AMBIENTS)
        k, z = _cell(np.sqrt(strength) * AIRFLOWS_PER_UNIT, AIRFLOWS)
        added = strength * _between(exchange.forced_w_per_k, exchange.row[s], i, j, k, x, y, z)
        conductance = np.cbrt(conductance**3 + added**3)
    surface_k, outside_k = surface_c + KELVIN, ambient_c + KELVIN
    squares = surface_k * surface_k + outside_k * outside_k
    radiating = STEFAN_BOLTZMANN_W_PER_M2_K4 * squares * (surface_k + outside_k)
    return conductance + exchange.black_m2[s] * radiating


@inlined
def _cell(place: float, nodes: int) -> tuple[int, float]:
    """The cell of an axis that a place lies in, in nodes from its start, and where in the cell."""
    if not place > 0.0:
        return 0, 0.0
    if place >= nodes - 1:
        return nodes - 2, 1.0
    cell = int(place)
    return cell, place - cell


@inlined
def _between(table: Array, row: int, i: int, j: int, k: int, x: float, y: float, z: float) -> float:
    """A table over three axes between its nodes."""
    near = _at_rise(table, row, i, j, k, y, z)
    far = _at_rise(table, row, i + 1, j, k, y, z)
    return near + x * (far - near)


@inlined
def _at_rise(table: Array, row: int, i: int, j: int, k: int, y: float, z: float) -> float:
    near = table[row, i, j, k] + z * (table[row, i, j, k + 1] - table[row, i, j, k])
    far = table[row, i, j + 1, k] + z * (table[row, i, j + 1, k + 1] - table[row, i, j + 1, k])
    return near + y * (far - near)
