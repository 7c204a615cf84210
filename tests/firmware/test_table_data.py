"""CSV and JSON of a reading table say the same as the C."""

import csv
import io
import json

import numpy as np
import pytest

from derate.firmware.table_data import COLUMNS, csv_text, json_text
from derate.sensing import circuit as circuits
from derate.sensing.circuit import celsius_at_lsb
from derate.sensing.tables import readings
from tests.firmware.test_table_c import KINDS, RANGE_C, made
from tests.sensing.invented import sensor

PRINTED_K = 1e-6
"""The CSV prints microkelvin: half a unit of its last digit, and a rounding of the difference."""


@pytest.fixture(scope="module")
def circuit():
    """The circuit the tables are made of."""
    return circuits.from_lamp(sensor())


@pytest.mark.parametrize("kind", KINDS)
def test_a_line_a_code(kind, circuit):
    """Every code of the converter once; readings those of the table, faults without a reading."""
    table = made(kind)
    lines = list(csv.DictReader(io.StringIO(csv_text(table, circuit))))
    assert [int(line["code"]) for line in lines] == list(range(circuit.transfer.full_scale))
    states = [line["state"] for line in lines]
    window = table.window
    assert states[: window.low_code + 1] == ["short"] * (window.low_code + 1)
    assert states[window.high_code :] == ["open"] * (len(states) - window.high_code)
    healthy = [line for line in lines if line["state"] == "healthy"]
    codes = [int(line["code"]) for line in healthy]
    assert codes == list(range(window.low_code + 1, window.high_code))
    assert [int(line["reading_counts"]) for line in healthy] == readings(table, codes).tolist()
    assert all(not line["reading_c"] for line in lines if line["state"] != "healthy")


def test_the_error_is_reading_minus_ideal(circuit):
    """The error column is the reading less the ideal chain, and within the range keeps its bound.

    The ideal chain is taken anew from the middle of each code.
    """
    table = made("placed knots")
    for line in csv.DictReader(io.StringIO(csv_text(table, circuit))):
        if line["state"] != "healthy":
            continue
        ideal_c = celsius_at_lsb(circuit, int(line["code"]) + 0.5)
        error_k = int(line["reading_counts"]) / table.scale - ideal_c
        assert abs(float(line["error_k"]) - error_k) < PRINTED_K
        if RANGE_C[0] < ideal_c < RANGE_C[1]:
            assert abs(float(line["error_k"])) < table.error_k + PRINTED_K


def test_the_columns_carry_units(circuit):
    """The first line names the columns, with units where there are any."""
    assert csv_text(made("direct"), circuit).split("\n")[0] == COLUMNS


@pytest.mark.parametrize("kind", KINDS)
def test_json_holds_the_constants(kind):
    """The document holds every constant of the C, sizes and the fault window."""
    table = made(kind)
    document = json.loads(json_text("ntc", table, ("Chain: invented.",)))
    assert document["kind"] == kind
    np.testing.assert_array_equal(document["values"], table.values)
    np.testing.assert_array_equal(document["codes"], table.codes)
    assert document["fault_window"]["high_code"] == table.window.high_code
    assert document["about"] == ["Chain: invented."]
    assert document["bytes"] == table.bytes
    if kind == "temperature steps":
        steps = np.arange(len(table.values)) * document["value_step"]
        np.testing.assert_array_equal(steps + document["values"][0], table.values)
