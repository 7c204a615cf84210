"""How far the limited places of a lamp rise above what the firmware reads, as its network says.

    F_pc(i) = Z_pc((i + 1) T) - Y_c(i T)        [K], i = 0, 1, 2 ..

is the rise of place p above the filtered reading, i control periods T after channel c was switched
to full drive for good, as it will be at the end of the coming period: Z_pc the step response of the
place, Y_c that of the thermistor behind the firmware's filter. F(0) thus is what the coming period
alone does.

Every place is the hottest of its nodes, and the thermistor the one that follows best. The network
is the nominal one, its surfaces at their reference conductances, at each of some airflow factors.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control.heat import full_heat
from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places

if TYPE_CHECKING:
    from derate.plant.network import Assembly
    from derate.plant.zth import Step

Array = NDArray[np.float64]

POINTS, LONGEST = 200, 10.0
"""Numbers of periods looked at, even in the logarithm, up to so many longest time constants."""
APART = 1e-9
"""Relative distance kept between the factors of filter and modes, whose difference divides."""
RIPPLE_DUTIES = np.linspace(0.05, 0.95, 19)
"""Duties of which one makes the largest crest, nearly enough: the crest is flat there."""


class Place(NamedTuple):
    """What is limited: its name, its nodes by index, its limit [degC], whether it is a junction."""

    name: str
    nodes: list[int]
    limit_c: float
    is_junction: bool


class Rises(NamedTuple):
    """``rise_k`` (A, P, C, I): F at full drive after ``periods`` (I), for A airflow factors;
    ``above_k`` (A, P): above the ambient at full drive of all for ever; ``crest_k`` (P): most that
    the PWM ripple of a junction rises above its mean; ``short`` (C): share of full heat by which a
    duty may heat less than its share; ``slowest_s``: longest time constant of the lamp [s]."""

    places: tuple[Place, ...]
    periods: Array
    rise_k: Array
    above_k: Array
    crest_k: Array
    short: Array
    slowest_s: float


def rises_of(lamp: Lamp, airflows: Sequence[float] = (1.0,)) -> Rises:
    """The rises of every junction and every other limited place of a lamp."""
    from derate.plant.network import Assembly
    from derate.plant.zth import steps

    assembly, period_s = Assembly(lamp), lamp.timing.control_period_s
    heat, places = full_heat(lamp, assembly), _places(lamp, assembly)
    found = []
    for airflow in airflows:
        network = assembly.network(airflow, {})
        found.append(steps(network, network.inject[:, : len(assembly.heated)] @ heat.most_w))
    slowest_s = max(float(some[0].time_constant_s[-1]) for some in found)
    last = max(float(POINTS), LONGEST * slowest_s / period_s)
    periods = np.geomspace(1.0, last, POINTS)
    periods = np.concatenate(([0.0], np.unique(np.round(periods))))
    sensors = [assembly.place[body] for body in assembly.bodies]
    rise_k = np.zeros((len(found), len(places), len(lamp.channels), len(periods)))
    above_k = np.zeros((len(found), len(places)))
    for a, some in enumerate(found):
        for c, step in enumerate(some):
            reading_k = _read_k(step, sensors, periods, period_s, lamp.controller.filter_shift)
            for p, place in enumerate(places):
                risen_k = _risen_k(step, place.nodes, (periods + 1.0) * period_s)
                rise_k[a, p, c] = risen_k - reading_k
                above_k[a, p] += risen_k[-1]
    crest_k = np.max([_crest_k(lamp, places, some) for some in found], axis=0)
    return Rises(places, periods, rise_k, above_k, crest_k, heat.short, slowest_s)


def _places(lamp: Lamp, assembly: "Assembly") -> tuple[Place, ...]:
    junctions = assembly.junction_nodes.items()
    found = [
        Place(n, list(nodes), lamp.channels[n].junction_limit_c, is_junction=True)
        for n, nodes in junctions
    ]
    for limited in limited_places(lamp):
        nodes = [assembly.place[node] for node in limited.nodes]
        found.append(Place(limited.name, nodes, limited.limit_c, is_junction=False))
    return tuple(found)


def _risen_k(step: "Step", nodes: list[int], time_s: Array) -> Array:
    """The step response of the hottest of some nodes [K] after times [s]."""
    passed = -np.expm1(-time_s[:, None] / step.time_constant_s)
    risen_k = passed @ step.resistance_k_per_w[:, nodes] + step.at_once_k_per_w[nodes]
    return np.asarray(risen_k.max(axis=1))


def _read_k(step: "Step", sensors: list[int], periods: Array, period_s: float, shift: int) -> Array:
    """The step response of the hottest thermistor behind the filter [K].

    The filter y_i = b y_(i-1) + (1 - b) x_i turns x_i = 1 - a^i, for i = 0, 1 .., into
    y_i = 1 - k a^i - (1 - k) b^i with k = (1 - b) a / (a - b).
    """
    mode, kept = np.exp(-period_s / step.time_constant_s), 1.0 - 2.0**-shift
    kept *= 1.0 - APART
    share = (1.0 - kept) * mode / (mode - kept)
    over = periods[:, None]
    passed = 1.0 - share * mode**over - (1.0 - share) * kept**over
    at_once = (1.0 - kept**over) * step.at_once_k_per_w[sensors]
    return np.asarray((passed @ step.resistance_k_per_w[:, sensors] + at_once).max(axis=1))


def _crest_k(lamp: Lamp, places: tuple[Place, ...], found: "tuple[Step, ...]") -> Array:
    """Crests of the PWM ripple [K] at the worst duty: of a mode of rise R and time constant tau,

    R ((1 - exp(-d P / tau)) / (1 - exp(-P / tau)) - d),    P the PWM period, d the duty.
    """
    crest_k = np.zeros(len(places))
    if lamp.driver.dimming != "pwm":
        return crest_k
    for c, step in enumerate(found):
        periods = 1.0 / lamp.driver.frequency_hz / step.time_constant_s
        duty = RIPPLE_DUTIES[:, None]
        shape = np.expm1(-duty * periods) / np.expm1(-periods) - duty
        crest_k[c] = np.max(shape @ step.resistance_k_per_w[:, places[c].nodes])
    return crest_k
