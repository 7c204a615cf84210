"""Reading tables of every kind: over every code, within their error, monotone, saturating."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.sensing import tables
from derate.sensing.circuit import from_lamp
from derate.sensing.lookup import build, healthy_codes, ideal_reading_c
from derate.sensing.placed import fewest_segments
from derate.sensing.tables import KINDS, build_table, reading, readings, trade
from tests.sensing.invented import ARRANGEMENTS, B_3950_10K, sensor

RANGE_C = (-10.0, 125.0)
SAME_K = 1e-9
"""The stated error is recomputed from the same numbers: rounding of floats only."""
HALF_COUNT = 0.5
FEW_TRIES = 10
"""A bisection from the whole range takes a dozen and more."""
TRADE_K = 0.02
"""A search for the least error of placed knots ends within half a percent of it."""


def circuit_of(arrangement="pull-up", bits=12, range_c=RANGE_C, **divider):
    """The circuit of an invented sensor."""
    thermistor = {**B_3950_10K, "range_c": range_c}
    made = sensor(arrangement, thermistor=thermistor, adc={"bits": bits}, **divider)
    return from_lamp(made)


def plain_reading(table, code):
    """The reading in Python's unbounded whole numbers, straight from the description."""
    values, last = table.values.tolist(), len(table.values) - 1
    if table.kind == "direct":
        return values[min(max(code - table.first_code, 0), last)]
    at, knots = code, table.codes.tolist()
    if table.kind == "code steps":
        knots = [table.first_code + (i << table.shift) for i in range(last + 1)]
    elif table.kind == "temperature steps":
        at = code << table.shift
        values = [table.first_value + i * table.step_value for i in range(last + 1)]
    if at <= knots[0]:
        return values[0]
    for i in range(last):
        if knots[i] <= at < knots[i + 1]:
            span = knots[i + 1] - knots[i]
            rise = values[i + 1] - values[i]
            return values[i] + (2 * rise * (at - knots[i]) + span) // (2 * span)
    return values[-1]


def check_table(table, circuit, range_c):
    """The claims of a table, over every code of the converter."""
    every = np.arange(circuit.transfer.full_scale)
    found = readings(table, every)
    sign = -1 if circuit.bridge.pull_up else 1
    assert np.all(np.diff(found) * sign >= 0)
    codes = healthy_codes(circuit, range_c)
    errors_k = np.abs(found[codes] / table.scale - ideal_reading_c(circuit, codes))
    assert np.max(errors_k) == pytest.approx(table.error_k, abs=SAME_K)
    ends = {int(table.values[0]), int(table.values[-1])}
    assert min(ends) <= np.min(found) <= np.max(found) <= max(ends)
    if table.kind != "code steps":
        assert {int(found[0]), int(found[-1])} <= ends
    assert table.codes.dtype == np.uint16
    assert table.values.dtype == np.int16
    assert np.all(np.diff(table.codes.astype(int)) > 0)
    assert -32768 not in table.values
    assert table.window.low_code < codes[0]
    assert codes[-1] < table.window.high_code


@pytest.mark.parametrize("bits", [8, 10, 12, 14, 16])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("kind", KINDS)
def test_every_code(kind, arrangement, bits):
    """Every width and arrangement: within the error asked for, as whole numbers have it."""
    circuit = circuit_of(arrangement, bits)
    table = build_table(circuit, RANGE_C, kind=kind, max_error_k=1.0)
    assert (table.kind, table.scale) == (kind, 100)
    assert table.error_k <= 1.0
    check_table(table, circuit, RANGE_C)
    every = np.arange(0, 1 << bits, 1 if bits <= 12 else 61)
    assert readings(table, every).tolist() == [plain_reading(table, int(c)) for c in every]
    assert reading(table, 1 << (bits - 1)) == plain_reading(table, 1 << (bits - 1))


@pytest.mark.parametrize("kind", KINDS)
def test_the_check_of_every_code_bites(kind):
    """A table with one value or knot off does not pass."""
    circuit = circuit_of()
    table = build_table(circuit, RANGE_C, kind=kind, max_error_k=0.5)
    middle = len(table.values) // 2
    if kind == "temperature steps":
        table.codes[middle] += 400
    else:
        table.values[middle] += 100
    with pytest.raises(AssertionError):
        check_table(table, circuit, RANGE_C)


@given(
    kind=st.sampled_from(KINDS),
    bits=st.integers(8, 14),
    arrangement=st.sampled_from(ARRANGEMENTS),
    log_ratio=st.floats(-1.0, 0.7),
    reference=st.sampled_from(["ratiometric", 3.3, 3.6, 5.0]),
    range_c=st.tuples(st.floats(-40.0, 0.0), st.floats(80.0, 150.0)),
    max_error_k=st.floats(0.01, 2.0),
    scale=st.sampled_from([16, 32, 64, 100, 128]),
)
@settings(max_examples=150)
def test_any_sensible_chain(
    kind, bits, arrangement, log_ratio, reference, range_c, max_error_k, scale
):
    """Any chain: refused in a sentence, or monotone and within its error on every code."""
    resistor_ohm = 1e4 * 10.0**log_ratio
    try:
        circuit = circuit_of(
            arrangement, bits, range_c, resistor_ohm=resistor_ohm, reference=reference
        )
        table = build_table(circuit, range_c, kind=kind, max_error_k=max_error_k, scale=scale)
    except InputError:
        assume(False)
    assert table.error_k <= max_error_k
    check_table(table, circuit, range_c)
    assert (table.lower_bound is not None) == (kind == "placed knots")
    if kind == "placed knots":
        assert table.lower_bound == table.segments


@pytest.mark.parametrize("kind", ["code steps", "temperature steps", "placed knots"])
def test_the_best_within_so_many_bytes(kind):
    """The table fits; more bytes never err more; the error asked back needs as many bytes."""
    circuit, errors_k = circuit_of(), []
    for most in (24, 40, 64, 128, 256):
        table = build_table(circuit, RANGE_C, kind=kind, max_bytes=most)
        assert table.bytes <= most
        check_table(table, circuit, RANGE_C)
        errors_k.append(table.error_k)
        back = build_table(circuit, RANGE_C, kind=kind, max_error_k=table.error_k + SAME_K)
        assert back.bytes <= table.bytes
    assert errors_k == sorted(errors_k, reverse=True)
    assert errors_k[-1] < 0.2 * errors_k[0]


def test_bytes_of_placed_knots_are_used_to_the_last():
    """No error clearly below that of the table found can be held in as many bytes."""
    circuit = circuit_of()
    table = build_table(circuit, RANGE_C, max_bytes=48)
    better = build_table(circuit, RANGE_C, max_error_k=(1.0 - TRADE_K) * table.error_k)
    assert better.lower_bound > table.segments


def test_free_edges_err_half_of_edges_on_the_curve():
    """Values at uniform code steps are moved off the curve, which nearly halves the error."""
    circuit = circuit_of()
    table = build_table(circuit, RANGE_C, kind="code steps", max_bytes=128)
    codes = healthy_codes(circuit, RANGE_C)
    edges = codes[0] + (np.arange(len(table.values)) << table.shift)
    curve = ideal_reading_c(circuit, codes)
    on_curve = np.interp(codes, edges, ideal_reading_c(circuit, np.minimum(edges, codes[-1])))
    assert table.error_k < 0.7 * np.max(np.abs(on_curve - curve)[: edges[-2] - codes[0]])


def test_direct_errs_by_rounding_only():
    """A value a code errs by half a count, and nothing below can be asked for."""
    for scale in (16, 100):
        table = build_table(circuit_of(), RANGE_C, kind="direct", scale=scale)
        assert table.error_k <= HALF_COUNT / scale + SAME_K
        with pytest.raises(InputError, match="keeps within"):
            build_table(circuit_of(), RANGE_C, kind="direct", max_error_k=0.4 / scale, scale=scale)


def test_trade_shows_every_kind():
    """All kinds appear, each ordered by size with the error falling, placed knots proved."""
    tables = trade(circuit_of(), RANGE_C)
    assert {table.kind for table in tables} == set(KINDS)
    for kind in KINDS:
        mine = [table for table in tables if table.kind == kind]
        sizes, errors_k = [t.bytes for t in mine], [t.error_k for t in mine]
        assert sizes == sorted(set(sizes))
        assert errors_k == sorted(errors_k, reverse=True)
    assert all(t.lower_bound == t.segments for t in tables if t.kind == "placed knots")


def test_the_firmware_gets_the_fewest_knots():
    """The controller's table is that of placed knots, with neighbours that differ."""
    for arrangement in ARRANGEMENTS:
        circuit = circuit_of(arrangement)
        lookup, table = build(circuit, RANGE_C), build_table(circuit, RANGE_C)
        assert len(lookup.knots) - 1 == table.segments == table.lower_bound
        assert np.all(np.diff(lookup.centi_c.astype(int)) != 0)


def test_bytes_and_operations_by_hand():
    """16 knots are 64 bytes and 8 operations; a direct table is 2 bytes a code and 2 compares."""
    circuit = circuit_of(range_c=(0.0, 125.0))
    placed = build_table(circuit, (0.0, 125.0))
    assert (placed.segments, placed.bytes, placed.operations) == (15, 64, 8)
    direct = build_table(circuit, (0.0, 125.0), kind="direct")
    assert direct.bytes == 2 * len(healthy_codes(circuit, (0.0, 125.0))) + 2
    assert direct.operations == 2
    stepped = build_table(circuit, (0.0, 125.0), kind="code steps", max_bytes=64)
    assert (stepped.bytes, stepped.operations) == (2 * len(stepped.values) + 4, 5)


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"kind": "spline"}, "found table kind 'spline', due one of"),
        ({"max_error_k": 0.1, "max_bytes": 64}, "both an error and a number of bytes"),
        ({"max_error_k": 0.004}, "no table of kind 'placed knots'.* keeps within 0.004 K"),
        ({"max_bytes": 7}, "keeps within 7 bytes"),
        ({"max_bytes": 5, "kind": "code steps"}, "keeps within 5 bytes"),
        ({"max_bytes": 7, "kind": "temperature steps"}, "keeps within 7 bytes"),
        ({"max_bytes": 100, "kind": "direct"}, "keeps within 100 bytes"),
        ({"scale": 50}, "found 50 counts per kelvin, due one of 16, 32, 64, 100, 128"),
    ],
)
def test_refusals(asked, sentence):
    """What cannot be made is refused in one sentence that begins with the sensor's name."""
    with pytest.raises(InputError, match=f"^ntc: .*{sentence}"):
        build_table(circuit_of(), RANGE_C, where="ntc", **asked)


def test_a_scale_that_does_not_fit_is_refused():
    """256 K in steps of 1/128 K leave 16 bits; a coarser scale is asked for."""
    wide = (0.0, 258.0)
    with pytest.raises(InputError, match="do not fit 16 bits"):
        build_table(circuit_of(resistor_ohm=1e3), wide, scale=128)


@pytest.mark.parametrize("most", [24, 48, 200])
def test_few_errors_are_tried_for_a_number_of_bytes(monkeypatch, most):
    """The search begins at a bound close to the answer, so that a handful of tables is made."""
    tried = []

    def counted(corridor, **keys):
        tried.append(keys)
        return fewest_segments(corridor, **keys)

    monkeypatch.setattr(tables, "fewest_segments", counted)
    assert build_table(circuit_of(), RANGE_C, max_bytes=most).bytes <= most
    assert len(tried) <= FEW_TRIES
