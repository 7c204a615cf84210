"""A sensor made ready to be judged: circuit, reading table, surroundings, causes of its error."""

from typing import NamedTuple

from derate.lamp.sensor import Sensor
from derate.sensing import circuit as circuits
from derate.sensing.circuit import Circuit
from derate.sensing.contribution import STEADY, Cause, Situation, causes_of
from derate.sensing.deviation import Body
from derate.sensing.lookup import CENTI, MAX_ERROR_K, Lookup, build
from derate.sensing.reading_table import ReadingTable


class Study(NamedTuple):
    """A sensor in a situation: its circuit and table, its surroundings, the causes of its error."""

    circuit: Circuit
    table: ReadingTable
    body: Body
    causes: tuple[Cause, ...]
    range_c: tuple[float, ...]


def study(
    sensor: Sensor,
    situation: Situation = STEADY,
    *,
    max_error_k: float = MAX_ERROR_K,
    table: ReadingTable | None = None,
    where: str = "sensor",
) -> Study:
    """A sensor made ready; InputError when its chain leaves no room for a table or fault window.

    Without a ``table``: the one of the controller, within ``max_error_k`` [K].
    """
    circuit = circuits.from_lamp(sensor, where=where)
    range_c = sensor.thermistor.range_c
    if table is None:
        table = of_controller(build(circuit, range_c, max_error_k=max_error_k, where=where))
    body = body_of(sensor, circuit, situation)
    return Study(circuit, table, body, causes_of(sensor, situation), range_c)


def of_controller(lookup: Lookup) -> ReadingTable:
    """The table of the lamp's controller, which reads alike."""
    return ReadingTable(
        "placed knots", CENTI, lookup.knots, lookup.centi_c, 0, 0, lookup.window, lookup.error_k,
        None,
    )  # fmt: skip


def body_of(sensor: Sensor, circuit: Circuit, situation: Situation) -> Body:
    """What surrounds the thermistor of a sensor in a situation."""
    to_node, to_air = sensor.resistance_k_per_w, sensor.to_ambient_k_per_w
    ambient_share = 0.0 if to_air is None else to_node / (to_node + to_air)
    heat_k_per_w = to_node * (1.0 - ambient_share)
    low_c, high_c = situation.ambient_c
    return Body(
        heat_k_per_w,
        heat_k_per_w * sensor.capacitance_j_per_k,
        ambient_share,
        (float(low_c), float(high_c)),
        float(situation.current_a),
        circuit.spread.b_k,
    )
