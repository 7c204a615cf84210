"""Channels, sensors and nodes of a lamp at rest, and the limit that is nearest."""

import numpy as np
from numpy.typing import NDArray

from derate.plant.emitter import real_resistance_k_per_w
from derate.plant.outside import outside_tables
from derate.plant.rest import Rest
from derate.plant.state import NOTHING_SEEN
from derate.plant.steady import RUNAWAY_C
from derate.sensing.budget import error_band
from derate.sensing.contribution import Situation
from derate.sensing.prepared import of_controller
from derate.study.operating import Operating
from derate.study.operation import ChannelPoint, Limit, NodePoint, SensorPoint, Stability
from derate.study.sense import Sense

ON_BOARD = ("solder.", "place.")
"""Nodes of the board that are told beside "board"; others only carry the shape of its field."""
NEAR_RUNAWAY = 0.5
"""From this loop gain on, a part's tolerance may bring about what the nominal lamp does not do."""


def channel_points(lamp: Operating, rest: Rest) -> tuple[ChannelPoint, ...]:
    """Every channel at rest."""
    return tuple(_channel(lamp, rest, c, name) for c, name in enumerate(lamp.lamp.channels))


def _channel(lamp: Operating, rest: Rest, c: int, name: str) -> ChannelPoint:
    plant, part = lamp.resting, lamp.lamp.channels[name]
    junction = lamp.hottest(rest)[name]
    hot = plant.assembly.groups[junction - plant.first_junction]
    mine = [g for g, group in enumerate(plant.assembly.groups) if group.channel == c]
    electrical_w = float(rest.electrical_w[c])
    heat_w = float(rest.heat_w[mine].sum())
    current_a = float(rest.duties[c] * part.current_a)
    ripple_k = float(rest.peak_c[junction] - rest.node_c[junction])
    junction_c, limit_c = float(rest.node_c[junction]), part.junction_limit_c
    real = real_resistance_k_per_w(lamp.lamp.emitters[part.emitter])
    return ChannelPoint(
        name=name,
        emitters=part.series * part.parallel,
        duty=float(rest.duties[c]),
        current_a=current_a,
        voltage_v=electrical_w / current_a if current_a > 0.0 else 0.0,
        electrical_w=electrical_w,
        heat_w=heat_w,
        radiant_w=electrical_w - heat_w,
        light_lm=float(rest.light_lm[c]),
        efficacy_lm_per_w=_per(rest.light_lm[c], electrical_w),
        junction=lamp.names[junction],
        junction_c=junction_c,
        ripple_k=ripple_k,
        solder=hot.node,
        solder_c=float(rest.node_c[lamp.node(hot.node)]),
        limit_c=limit_c,
        margin_k=limit_c - junction_c - ripple_k,
        junction_to_solder_k_per_w=real,
        junction_to_solder_electrical_k_per_w=real * _per(heat_w, electrical_w),
    )


def sensor_points(lamp: Operating, rest: Rest, ambient_c: float) -> tuple[SensorPoint, ...]:
    """Every sensor at rest, with the error band that its tolerances leave."""
    return tuple(
        _sensor(lamp, rest, ambient_c, sense, int(body))
        for sense, body in zip(lamp.senses, lamp.resting.sensor_nodes, strict=True)
    )


def _sensor(lamp: Operating, rest: Rest, ambient_c: float, sense: Sense, body: int) -> SensorPoint:
    at = lamp.lamp.sensor_node(sense.name)
    place_c, thermistor_c = float(rest.node_c[lamp.node(at)]), float(rest.node_c[body])
    low_k, high_k = np.nan, np.nan
    if rest.runaway:
        return SensorPoint(sense.name, at, np.nan, np.nan, np.nan, 0, "", np.nan, np.nan)
    low_c, high_c = sense.sensor.thermistor.range_c
    if low_c <= place_c <= high_c:
        low_k, high_k = error_band(
            sense.sensor,
            place_c,
            situation=Situation(sense.most_a, 0.0, (ambient_c, ambient_c)),
            table=of_controller(sense.chain.lookup),
            where=f"sensors.{sense.name}",
        )
    code = sense.code(thermistor_c, sense.current_a(rest.duties))
    return SensorPoint(
        sense.name,
        at,
        place_c,
        thermistor_c,
        sense.chain.reading_c(code),
        code,
        sense.fault(code),
        low_k,
        high_k,
    )


def node_points(lamp: Operating, rest: Rest) -> tuple[NodePoint, ...]:
    """Every node of the lamp file and the named ones of the board."""
    found = []
    for i, name in enumerate(lamp.names):
        if name not in lamp.lamp.nodes and name != "board" and not name.startswith(ON_BOARD):
            continue
        limit_c = None if np.isnan(lamp.limits_c[i]) else float(lamp.limits_c[i])
        at_c, part = float(rest.node_c[i]), lamp.lamp.nodes.get(name)
        margin_k = None if limit_c is None else limit_c - at_c
        found.append(NodePoint(name, part.about if part else "", at_c, limit_c, margin_k))
    return tuple(found)


def nearest_limit(lamp: Operating, rest: Rest, *, junctions: bool = False) -> Limit | None:
    """The limit that acts first, None in a runaway; of ``junctions`` alone if asked so."""
    owners = {int(n): name for name, nodes in lamp.resting.junctions.items() for n in nodes}
    margin_k, node = lamp.nearest(rest, list(owners) if junctions else None)
    if node < 0:
        return None
    return Limit(
        lamp.names[node],
        owners.get(node, ""),
        float(rest.node_c[node]),
        float(lamp.limits_c[node]),
        margin_k,
    )


def _per(what: float, of: float) -> float:
    return float(what / of) if of > 0.0 else np.nan


def stability(lamp: Operating, rest: Rest) -> Stability:
    """Whether there is a rest, in numbers and words."""
    if rest.too_hot:
        sentence = (
            f"Hotter than {RUNAWAY_C:g} degC at rest: no runaway, but far more power than the lamp"
            " can shed."
        )
        return Stability(False, np.nan, sentence, too_hot=True)
    if rest.runaway:
        sentence = "Runs away: heat grows faster with temperature than the lamp sheds it."
        return Stability(True, np.nan, sentence)
    loop_gain = lamp.resting.loop_gain(rest.slopes_w_per_k)
    sentence = ""
    if loop_gain >= NEAR_RUNAWAY:
        sentence = (
            f"Near to running away: {100 * loop_gain:.0f} % of a warming comes back as"
            " warming, through the heat that it adds."
        )
    return Stability(False, loop_gain, sentence)


def outside(lamp: Operating, rest: Rest) -> set[str]:
    """Sentences about emitters beyond their tables at this rest."""
    if rest.runaway:
        return set()
    plant = lamp.resting
    lit = rest.duties > 0.0
    first = plant.first_junction
    junction_c = rest.node_c[first : first + len(plant.assembly.groups)]
    seen_c = _seen(junction_c, lit[[group.channel for group in plant.assembly.groups]])
    seen_a = _seen(rest.branch_a, lit[[branch.channel for branch in plant.assembly.branches]])
    return outside_tables(lamp.lamp, seen_c, seen_a)


def _seen(values: NDArray[np.float64], lit: NDArray[np.bool_]) -> NDArray[np.float64]:
    return np.where(lit, values, NOTHING_SEEN)
