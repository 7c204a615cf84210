"""Fault windows of parts within their tolerances: no corner of them is taken for another state."""

import itertools

import numpy as np
import pytest

from derate.errors import InputError
from derate.sensing.circuit import EXACT, HEALTHY, OPEN, SHORT, from_lamp, ratio_at
from derate.sensing.deviation import PLACES, Body, corner_lsb
from derate.sensing.lookup import wires_at
from derate.sensing.spread import extreme_ratio
from derate.sensing.window import fault_window
from tests.sensing.invented import ARRANGEMENTS
from tests.sensing.toleranced import exact

LOOSE = {"resistor": 0.02, "resistor_drift_per_k": 2e-4, "r25": 0.1, "b_value": 0.02}
LINEARISED = {"series_ohm": 470.0, "parallel_ohm": 220e3}
RANGE_C = (-20.0, 110.0)
SAME = 1e-12
"""The same few operations in another order."""


def made(arrangement, tolerance=LOOSE, **keys):
    """The circuit of an invented sensor with loose parts."""
    return from_lamp(exact(arrangement, tolerance=tolerance, **keys))


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("divider", [{}, LINEARISED], ids=["plain", "linearised"])
def test_every_corner_of_the_parts_keeps_its_state(arrangement, divider):
    """Chains of parts at their limits give no fault when healthy and the right one when broken."""
    window = fault_window(made(arrangement, **divider), RANGE_C)
    edges = (window.low_code, window.high_code, window.open_is_high)
    for up, ohm_up, celsius in itertools.product((-1, 1), (-1, 1), RANGE_C):
        factor = (1 + 0.02 * up) * (1 + 2e-4 * up * abs(celsius - 25.0))
        moved = {key: ohm * factor for key, ohm in divider.items()}
        part = {"b_value_k": 3950.0, "resistance_25_ohm": 10e3 * (1 + 0.1 * ohm_up)}
        unit = from_lamp(exact(arrangement, thermistor=part, resistor_ohm=10e3 * factor, **moved))
        for wires in (HEALTHY, OPEN, SHORT):
            code = min(int(4096 * ratio_at(unit, celsius, 0.0, wires)), 4095)
            assert wires_at(*edges, code) == wires


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("celsius", RANGE_C)
def test_the_extremes_are_those_of_the_budget(arrangement, celsius):
    """Both walks over the corners of the parts, this and the budget's, end at the same voltage."""
    circuit = made(arrangement, **LINEARISED)
    body = Body(0.0, 0.0, 0.0, (25.0, 25.0), 0.0, circuit.spread.b_k)
    size = {"r25": 0.1, "b_value": 0.02}
    for name in ("resistor", "series", "parallel"):
        size[name] = 0.02
        size["drift" if name == "resistor" else f"{name}_drift"] = 2e-4
    ends = np.array([[-size.get(name, 0.0), size.get(name, 0.0)] for name in PLACES])
    least, most = corner_lsb(circuit, body, ends, np.array([celsius]))[0] / 4096
    assert extreme_ratio(circuit, celsius, HEALTHY, -1) == pytest.approx(least, abs=SAME)
    assert extreme_ratio(circuit, celsius, HEALTHY, 1) == pytest.approx(most, abs=SAME)


def test_loose_parts_move_the_edges():
    """The coldest healthy code comes nearer to the open one, and the edge goes with it."""
    loose, tight = made("pull-up"), made("pull-up", tolerance={})
    assert tight.spread[:-1] == EXACT[:-1]
    near, far = fault_window(loose, RANGE_C), fault_window(tight, RANGE_C)
    assert near.high_code > far.high_code
    assert near.open_margin_codes < far.open_margin_codes
    assert near.low_code < far.low_code


def test_no_room_left_by_the_parts_is_refused():
    """Where exact parts have room and loose ones none, one sentence names the tolerances."""
    keys = {"adc": {"bits": 10}, "resistor_ohm": 2.7e3}
    range_c = (-40.0, 110.0)
    part = {"r25": 0.4, "b_value": 0.1}
    fault_window(made("pull-up", tolerance={}, **keys), range_c)
    with pytest.raises(InputError, match=r"parts within their tolerances.*closer tolerances"):
        fault_window(made("pull-up", tolerance=part, **keys), range_c)
