"""Fault windows: never hit by a healthy chain, never missed by a broken one."""

import itertools

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.sensing.adc import convert
from derate.sensing.circuit import HEALTHY, OPEN, SHORT, celsius_at_lsb, ideal_lsb, ratio_at
from derate.sensing.lookup import wires_at
from derate.sensing.window import LEAST_ROOM, NOISE_SIGMAS
from tests.sensing.invented import ARRANGEMENTS, B_3950_10K, ROUGH, chain


def corner_codes(made, celsius, wires):
    """Codes at all corners of the ADC errors, either sign of each, the noise at 4 sigma."""
    transfer = made.circuit.transfer
    noise_lsb = NOISE_SIGMAS * transfer.noise_lsb / transfer.oversampling**0.5
    found = []
    for signs in itertools.product((-1, 1), repeat=4):
        corner = transfer._replace(
            offset_lsb=signs[0] * transfer.offset_lsb + signs[3] * noise_lsb,
            gain_error=signs[1] * transfer.gain_error,
            inl_lsb=signs[2] * transfer.inl_lsb,
            noise_lsb=0.0,
        )
        ratio = ratio_at(made.circuit, celsius, 0.0, wires)
        found.append(convert(corner, ratio, 0, 0, 0, 0))
    return found


def states(made, celsius, wires):
    """What the window says of the codes at all corners of the ADC errors."""
    window = made.lookup.window
    edges = (window.low_code, window.high_code, window.open_is_high)
    return {wires_at(*edges, code) for code in corner_codes(made, celsius, wires)}


def edges_are_half_way(made):
    """Whether each edge lies as far from the worst healthy code as from the worst broken one."""
    window = made.lookup.window
    low_c, high_c = made.range_c
    cold_is_high = made.circuit.bridge.pull_up
    top_c, bottom_c = (low_c, high_c) if cold_is_high else (high_c, low_c)
    top, bottom = (OPEN, SHORT) if cold_is_high else (SHORT, OPEN)
    above = min(corner_codes(made, 25.0, top)) - window.high_code
    below = window.high_code - max(corner_codes(made, top_c, HEALTHY))
    under = window.low_code - max(corner_codes(made, 25.0, bottom))
    over = min(corner_codes(made, bottom_c, HEALTHY)) - window.low_code
    return below - above in (0, 1) and over - under in (0, 1)


@given(
    bits=st.integers(8, 16),
    arrangement=st.sampled_from(ARRANGEMENTS),
    log_ratio=st.floats(-1.0, 0.7),
    reference=st.sampled_from(["ratiometric", 3.0, 3.6, 5.0]),
    low_c=st.floats(-40.0, 0.0),
    high_c=st.floats(80.0, 150.0),
    offset_lsb=st.floats(-4.0, 4.0),
    gain_error=st.floats(-0.01, 0.01),
    inl_lsb=st.floats(-3.0, 3.0),
    noise_lsb=st.floats(0.0, 2.0),
    oversampling=st.sampled_from([1, 4, 16]),
)
@settings(max_examples=200)
def test_healthy_and_broken_are_told_apart(
    bits, arrangement, log_ratio, reference, low_c, high_c, oversampling, **errors
):
    """Whatever the signs of the ADC errors, healthy is healthy, open is open, short is short."""
    try:
        made = chain(
            arrangement,
            thermistor={**B_3950_10K, "range_c": (low_c, high_c)},
            adc={"bits": bits, "oversampling": oversampling, **errors},
            resistor_ohm=10e3 * 10.0**log_ratio,
            reference=reference,
        )
    except InputError:
        assume(False)
    for celsius in np.linspace(low_c, high_c, 9):
        assert states(made, celsius, HEALTHY) == {HEALTHY}
    assert states(made, 25.0, OPEN) == {OPEN}
    assert states(made, 25.0, SHORT) == {SHORT}
    assert edges_are_half_way(made)
    assert made.lookup.open_margin_codes >= LEAST_ROOM // 2
    assert made.lookup.short_margin_codes >= LEAST_ROOM // 2


def test_the_edge_lies_half_way():
    """10 bits, no errors: from -40 degC 24 codes remain to open; the edge takes 12 (computed).

    10 kohm, B 3950 K at 10 kohm to the supply, code 1023 when open.
    """
    made = chain(adc={"bits": 10}, thermistor={**B_3950_10K, "range_c": (-40.0, 125.0)})
    window = made.lookup.window
    assert 1024 - ideal_lsb(made.circuit, -40.0) == pytest.approx(24.0, abs=1.0)
    healthy = made.ideal_code(-40.0)
    assert window.high_code == (healthy + 1023 + 1) // 2
    assert made.lookup.open_margin_codes == window.high_code - healthy


def test_a_small_pull_up_leaves_no_room_in_the_cold():
    """2.2 kohm leaves 4.6 codes from -40 degC to open, too few with an ADC error (computed)."""
    thermistor = {**B_3950_10K, "range_c": (-40.0, 125.0)}
    plain = chain(adc={"bits": 10}, thermistor=thermistor, resistor_ohm=2.7e3)
    assert plain.lookup.open_margin_codes < 5
    with pytest.raises(InputError, match=r"-40 degC.*open.*at least 4 are due") as refusal:
        chain(adc={"bits": 10, "offset_lsb": 2}, thermistor=thermistor, resistor_ohm=2.2e3)
    assert "sensors.ntc_0: " in str(refusal.value)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_temperatures_at_which_windows_fire(arrangement):
    """The stated temperatures lie outside the range, and the code at them turns into a fault."""
    made = chain(arrangement)
    window = made.lookup.window
    assert window.open_fires_c < made.range_c[0]
    assert window.short_fires_c > made.range_c[1]
    for celsius, outwards_k, wires in (
        (window.open_fires_c, -0.5, OPEN),
        (window.short_fires_c, 0.5, SHORT),
    ):
        edges = (window.low_code, window.high_code, window.open_is_high)
        assert wires_at(*edges, made.ideal_code(celsius + outwards_k)) == wires
        assert wires_at(*edges, made.ideal_code(celsius - outwards_k)) == HEALTHY


def test_a_reference_below_the_supply_hides_the_cold():
    """With a 2.5 V reference on 3.3 V the cold end is clamped: refused for a pull-up."""
    with pytest.raises(InputError, match="to tell them apart"):
        chain("pull-up", reference=2.5)


def test_a_reference_above_the_supply_moves_the_open_code():
    """An open thermistor then gives less than full scale, and is still seen."""
    made = chain("pull-up", reference=5.0, adc=ROUGH)
    code = made.sense(25.0, fault=FAULTS["sensor open"])
    assert code < 0.67 * 4096
    assert np.isnan(made.reading_c(code))


FAULTS = {
    kind: type("Fault", (), {"kind": kind, "offset_k": None})()
    for kind in ("sensor open", "sensor short")
}


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("kind", FAULTS)
def test_a_broken_wire_never_reads_as_a_temperature(arrangement, kind):
    """At any temperature, with noise and errors, open and short give no reading."""
    made = chain(arrangement, adc=ROUGH)
    for tick, celsius in enumerate(np.linspace(-40.0, 125.0, 400)):
        code = made.sense(celsius, 0.0, seed=1, tick=tick, fault=FAULTS[kind])
        assert np.isnan(made.reading_c(code))


def test_current_that_fakes_a_fault_is_told():
    """Where the LED current carries a code across an edge, and only there, a warning says so."""
    assert chain(adc=ROUGH).warnings == ()
    loud = chain("pull-down", adc=ROUGH, disturbance={"ground_v_per_a": 0.05}, current_a=3.0)
    assert any("open gives code" in text for text in loud.warnings)
    cold = chain("pull-up", adc=ROUGH, disturbance={"ground_v_per_a": 0.05}, current_a=3.0)
    assert any("-40 degC" in text and "taken for a fault" in text for text in cold.warnings)


LINEARISED = {"resistor_ohm": 10e3, "parallel_ohm": 100e3, "series_ohm": 470.0}
NARROW = {**B_3950_10K, "range_c": (0.0, 100.0)}


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_windows_with_linearising_resistors(arrangement):
    """Open reads as the resistor across, a short as the one in series; both are still seen."""
    made = chain(arrangement, thermistor=NARROW, adc=ROUGH, **LINEARISED)
    for celsius in (0.0, 100.0):
        assert states(made, celsius, HEALTHY) == {HEALTHY}
    assert states(made, 25.0, OPEN) == {OPEN}
    assert states(made, 25.0, SHORT) == {SHORT}
    rest = made.sense(25.0, fault=FAULTS["sensor open"])
    ideal = 4096.0 * 100470.0 / 110470.0
    assert rest == pytest.approx(ideal if arrangement == "pull-up" else 4096 - ideal, abs=15)
    assert made.lookup.window.open_fires_c < 0.0
    assert made.lookup.window.short_fires_c > 100.0


def test_celsius_inverts_the_linearised_chain():
    """The ideal input of a chain with series and parallel resistors gives the temperature back."""
    for arrangement in ARRANGEMENTS:
        made = chain(arrangement, thermistor=NARROW, reference=3.6, **LINEARISED)
        for celsius in np.linspace(-20.0, 120.0, 15):
            lsb = ideal_lsb(made.circuit, celsius)
            assert celsius_at_lsb(made.circuit, lsb) == pytest.approx(celsius, abs=1e-8)


def test_open_that_looks_like_cold_is_refused():
    """A resistor across that equals the thermistor's own cold end hides an open one: refused."""
    cold = {**B_3950_10K, "range_c": (-40.0, 125.0)}
    with pytest.raises(InputError, match=r"an open one.*a larger or no divider\.parallel"):
        chain(thermistor=cold, parallel_ohm=10e3, adc={"bits": 10, "offset_lsb": 30})
    with pytest.raises(InputError, match=r"a shorted one.*a smaller or no divider\.series"):
        chain(thermistor=cold, series_ohm=100e3, adc={"bits": 8})


def test_no_temperature_beyond_what_the_resistors_leave():
    """An edge that no thermistor reaches fires at no temperature: NaN."""
    made = chain("pull-up", reference=5.0, adc=ROUGH)
    assert np.isfinite(made.lookup.window.short_fires_c)
    wide = chain(
        thermistor=NARROW, adc={"offset_lsb": 90.0}, **{**LINEARISED, "parallel_ohm": 80e3}
    )
    assert np.isnan(wide.lookup.window.open_fires_c) or wide.lookup.window.open_fires_c < 0.0


@pytest.mark.parametrize("shape", ["bow", "s"])
@pytest.mark.parametrize("dnl_lsb", [0.9, -0.9])
def test_dnl_and_shape_of_inl_are_in_the_window(shape, dnl_lsb):
    """With codes of uneven width and either shape of INL, healthy and broken stay apart."""
    errors = {"dnl_lsb": dnl_lsb, "inl_lsb": 12.0, "inl_shape": shape}
    made = chain(adc={**errors, "bits": 10}, thermistor=NARROW)
    window, plain = made.lookup.window, chain(adc={"bits": 10}, thermistor=NARROW).lookup.window
    assert window != plain
    for sign in (1.0, -1.0):
        bad = chain(adc={**errors, "inl_lsb": sign * 12.0, "bits": 10}, thermistor=NARROW)
        assert bad.lookup.window == window
        for celsius in np.linspace(0.0, 100.0, 201):
            assert not np.isnan(bad.reading_c(bad.sense(celsius)))
        for kind in FAULTS:
            assert np.isnan(bad.reading_c(bad.sense(25.0, fault=FAULTS[kind])))


def test_a_reference_below_the_supply_is_named_as_a_cure():
    """An ADC that is full before the divider is told what to change."""
    with pytest.raises(InputError, match=r"a divider\.reference nearer to the supply of 3\.3 V"):
        chain("pull-up", reference=2.0)


@pytest.mark.parametrize("dnl_lsb", [1.0, -1.0])
def test_a_code_too_wide_counts_as_an_offset(dnl_lsb):
    """A transition one code off moves the edges as an offset of one code does, either way."""
    uneven = chain(adc={"dnl_lsb": dnl_lsb, "bits": 10}).lookup.window
    assert uneven == chain(adc={"offset_lsb": 1.0, "bits": 10}).lookup.window
    assert uneven != chain(adc={"bits": 10}).lookup.window


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_an_s_pulls_both_ends_outwards_at_its_worst(arrangement):
    """Near either end an S of the worse sign moves the healthy code out by its own height there."""
    peak_lsb = 20.0
    bent_adc = {"bits": 12, "inl_lsb": peak_lsb, "inl_shape": "s"}
    window = chain(arrangement, adc=bent_adc, thermistor=NARROW).lookup.window
    plain = chain(arrangement, thermistor=NARROW)
    for celsius in (0.0, 100.0):
        ratio = ideal_lsb(plain.circuit, celsius) / 4096
        height = 6 * 3**0.5 * ratio * (1 - ratio) * abs(1 - 2 * ratio) * peak_lsb
        outwards = height if ratio > 0.5 else -height
        healthy = np.floor(4096 * ratio + outwards)
        broken = 4095 if ratio > 0.5 else 0
        edge = window.high_code if ratio > 0.5 else window.low_code
        assert edge == pytest.approx((healthy + broken) / 2, abs=1.0)
