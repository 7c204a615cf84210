"""The reading table: every code, every width, both arrangements, exact whole numbers."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.sensing.circuit import HEALTHY, OPEN, SHORT
from derate.sensing.lookup import ideal_reading_c, reading_at, reading_centi_c, wires_at
from tests.sensing.invented import ARRANGEMENTS, B_3950_10K, ROUGH, chain

MAX_ERROR_K = 0.1
HALF_CODE = 0.5
"""A temperature lies at most half a code from the middle of its code."""


def every_code(made):
    """All codes of a chain's ADC."""
    return np.arange(made.circuit.transfer.full_scale)


def table_codes(made):
    """The codes an ideal chain gives in its working range."""
    ends = [made.ideal_code(celsius) for celsius in made.range_c]
    return np.arange(min(ends), max(ends) + 1)


def check_table(made, max_error_k=MAX_ERROR_K):
    """The claims of a table, over every code there is."""
    readings = reading_centi_c(made.lookup, every_code(made))
    sign = -1 if made.circuit.bridge.pull_up else 1
    assert np.all(np.diff(readings) * sign >= 0)
    codes = table_codes(made)
    errors_k = np.abs(readings[codes] / 100.0 - ideal_reading_c(made.circuit, codes))
    assert np.max(errors_k) <= max_error_k
    assert np.max(errors_k) == pytest.approx(made.lookup.error_k, abs=1e-9)
    assert np.all(readings[: codes[0]] == readings[codes[0]])
    assert np.all(readings[codes[-1] :] == readings[codes[-1]])


@pytest.mark.parametrize("bits", [8, 10, 12, 14, 16])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_every_code(bits, arrangement):
    """Within 0.1 K of the float model on every code of the range, monotone over all codes."""
    made = chain(arrangement, adc={"bits": bits})
    check_table(made)
    assert made.lookup.knots.dtype == np.uint16
    assert made.lookup.centi_c.dtype == np.int16


def test_the_check_of_every_code_bites():
    """A table with one corner off by 0.2 K does not pass."""
    made = chain()
    made.lookup.centi_c[5] += 20
    with pytest.raises(AssertionError):
        check_table(made)


@given(
    bits=st.integers(8, 16),
    arrangement=st.sampled_from(ARRANGEMENTS),
    b_value_k=st.floats(3000.0, 4500.0),
    log_r25=st.floats(3.0, 5.3),
    log_ratio=st.floats(-1.0, 0.7),
    reference=st.sampled_from(["ratiometric", 3.3, 3.6, 5.0]),
    range_c=st.tuples(st.floats(-40.0, 0.0), st.floats(80.0, 150.0)),
    max_error_k=st.floats(0.02, 2.0),
)
@settings(max_examples=90)
def test_any_sensible_chain(
    bits, arrangement, b_value_k, log_r25, log_ratio, reference, range_c, max_error_k
):
    """A chain is refused in a sentence, or monotone, within its error and round as a circle."""
    r25_ohm = 10.0**log_r25
    thermistor = {"b_value_k": b_value_k, "resistance_25_ohm": r25_ohm, "range_c": range_c}
    try:
        made = chain(
            arrangement,
            thermistor=thermistor,
            adc={"bits": bits},
            resistor_ohm=r25_ohm * 10.0**log_ratio,
            reference=reference,
            max_error_k=max_error_k,
        )
    except InputError:
        assume(False)
    check_table(made, max_error_k)
    for celsius in np.linspace(*range_c, 41):
        code = made.ideal_code(celsius)
        middle = ideal_reading_c(made.circuit, [code - HALF_CODE, code, code + HALF_CODE])
        half_code_k = np.max(np.abs(np.diff(middle)))
        assert abs(made.reading_c(code) - celsius) <= max_error_k + half_code_k + 1e-9


def test_whole_number_arithmetic_of_the_firmware():
    """Python's unbounded integers give the same reading, halves up, on both slopes."""
    for arrangement in ARRANGEMENTS:
        made = chain(arrangement)
        knots, values = made.lookup.knots.tolist(), made.lookup.centi_c.tolist()
        for code in range(4096):
            reading = values[0] if code <= knots[0] else values[-1]
            for i in range(len(knots) - 1):
                if knots[i] <= code < knots[i + 1]:
                    exact = values[i] + (values[i + 1] - values[i]) * (code - knots[i]) / (
                        knots[i + 1] - knots[i]
                    )
                    reading = math.floor(exact + 0.5 + 1e-9)
            assert reading_at(made.lookup.knots, made.lookup.centi_c, code) == reading
            assert reading_at.py_func(made.lookup.knots, made.lookup.centi_c, code) == reading


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_windows_cover_the_rest(arrangement):
    """Every code is healthy, open or short; the open side is that of the arrangement."""
    made = chain(arrangement, adc=ROUGH)
    window = made.lookup.window
    states = [
        wires_at(window.low_code, window.high_code, window.open_is_high, code)
        for code in range(4096)
    ]
    low, high = (SHORT, OPEN) if arrangement == "pull-up" else (OPEN, SHORT)
    expected = [low] * (window.low_code + 1)
    expected += [HEALTHY] * (window.high_code - window.low_code - 1)
    expected += [high] * (4096 - window.high_code)
    assert states == expected
    assert (made.lookup.open_code, made.lookup.short_code) == (
        (window.high_code, window.low_code)
        if arrangement == "pull-up"
        else (window.low_code, window.high_code)
    )


def test_a_coarser_table_is_smaller():
    """The larger the error allowed, the fewer corners; the error is used, not wasted."""
    sizes = []
    for max_error_k in (0.05, 0.1, 0.2, 0.5, 1.0):
        lookup = chain(max_error_k=max_error_k).lookup
        assert 0.8 * max_error_k < lookup.error_k <= max_error_k
        sizes.append(len(lookup.knots))
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 3 * sizes[-1]


def test_the_same_chain_gives_the_same_table():
    """A table is a function of the chain: built twice, it is equal to the last byte."""
    first, second = chain(adc=ROUGH).lookup, chain(adc=ROUGH).lookup
    assert first.knots.tobytes() == second.knots.tobytes()
    assert first.centi_c.tobytes() == second.centi_c.tobytes()
    assert first.window == second.window


def test_kelvin_per_code_of_two_pull_ups():
    """At 110 degC a code is 0.76 K with 10 kohm and 0.23 K with 2.2 kohm (computed, 10 bits)."""
    for resistor_ohm, expected_k in ((10e3, 0.76), (2.2e3, 0.23)):
        made = chain(adc={"bits": 10}, resistor_ohm=resistor_ohm, thermistor=COLD_TO_HOT)
        middle = made.ideal_code(110.0)
        codes = np.array([middle - 1, middle + 1])
        slope_k = -float(np.diff(ideal_reading_c(made.circuit, codes))[0]) / 2.0
        assert slope_k == pytest.approx(expected_k, abs=0.02)


COLD_TO_HOT = {**B_3950_10K, "range_c": (-20.0, 125.0)}


def test_unreasonable_errors_are_refused():
    """An error below the resolution of the table is refused in a sentence."""
    with pytest.raises(InputError, match=r"0\.011 K"):
        chain(max_error_k=0.005)


def test_a_range_of_one_code_is_refused():
    """A working range that falls on a single code makes no table, and the sentence says so."""
    narrow = {**B_3950_10K, "range_c": (25.01, 25.012)}
    with pytest.raises(InputError, match="falls on code"):
        chain(thermistor=narrow, adc={"bits": 8})
