"""The thermal network and the emitter against textbook transients and printed figures.

Tolerances come from the digits the source prints; where a value was recomputed for this file or is
known from memory, the test says so.
"""

import numpy as np
import pytest

from derate.lamp.emitter import Emitter
from derate.plant.emitter import real_resistance_k_per_w
from derate.plant.modes import modes_of
from derate.plant.plant import Plant
from tests.plant.invented import CHANNEL, drive, lamp
from tests.plant.rig import Rig, network_of

SIX_DIGITS = 1.5e-6
"""Relative: closed forms printed here with six or seven digits."""


def cooling_time_s(rate_per_s, start_c, ambient_c, goal_c):
    """Time after which one node of capacity passes ``goal_c``, found by advancing the network."""
    rig = Rig(network_of([1.0], [], [(0, 0, rate_per_s)]), start_c, [goal_c])
    long_s = 40.0 / rate_per_s
    rig.advance(long_s, [0.0], [ambient_c])
    above_s = rig.tally.above_s[0]
    return above_s if start_c > goal_c else long_s - above_s


def test_steel_ball_holman_4_1():
    """A 50 mm steel ball cools from 450 to 150 degC in air of 100 degC in 5818 s.

    Holman, Heat Transfer (SI units), Example 4.1, read in a public collection of worked textbook
    notebooks (Python-Textbook-Companions on GitHub): h A / (rho c V) = 3.34448e-4 1/s.
    """
    area_over_volume = 6 / 0.05
    rate = 10.0 * area_over_volume / (7800.0 * 460.0)
    assert rate == pytest.approx(3.34448e-4, abs=5e-10)
    assert cooling_time_s(rate, 450.0, 100.0, 150.0) == pytest.approx(5818.0, rel=1e-4)


def test_thermocouple_incropera_5_1():
    """A bead with a time constant of 1 s needs 5.2 s from 25 to 199 degC in gas of 200 degC.

    Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, Example 5.1, same
    collection: diameter 7.06e-4 m; time 5.16 s with that rounded diameter.
    """
    diameter_m = 6 * 400.0 * 1.0 / (8500.0 * 400.0)
    assert diameter_m == pytest.approx(7.06e-4, abs=5e-7)
    assert cooling_time_s(1.0, 25.0, 200.0, 199.0) == pytest.approx(5.16, abs=0.006)


def test_resistor_lienhard_2_9():
    """After three time constants, 174.3 s, a resistor has done 95 % of its cooling.

    Lienhard & Lienhard, A Heat Transfer Textbook, 3rd ed. 2008, Example 2.9, same collection.
    """
    volume_m3 = 0.01 * np.pi * 0.0036**2 / 4
    rate = 18.44 * 1.33e-4 / (2000.0 * 700.0 * volume_m3)
    assert 3 / rate == pytest.approx(174.3, abs=0.05)
    rig = Rig(network_of([1.0], [], [(0, 0, rate)]), 100.0)
    left = rig.advance(174.3, [0.0], [0.0])[0]
    assert left == pytest.approx(5.0, abs=0.5)  # printed as 95 %, a whole percent


@pytest.mark.parametrize(("h", "printed_per_s"), [(80.0, 0.0936), (10.0, 0.0117)])
def test_copper_wire_kreith_2_10(h, printed_per_s):
    """A 1 mm copper wire cools at 0.0936 1/s in water and 0.0117 1/s in air.

    Kreith, Manglik, Bohn, Principles of Heat Transfer, 7th ed. 2011, Example 2.10, same collection.
    """
    rate = h * 4 / 0.001 / (8930.0 * 383.0)
    assert modes_of(network_of([1.0], [], [(0, 0, rate)])).rate[0] == pytest.approx(
        printed_per_s, abs=5e-5
    )


def test_three_node_ladder_step_form():
    """A ladder's step response at its first node: three amplitudes and time constants.

    Elements from the test file of a general RC-network conversion library on GitHub; the modes
    were computed for this check with another routine, not printed by the source.
    """
    amplitudes = [0.545218, 0.0349754, 0.0198066]
    taus_s = [0.587686, 0.0628079, 0.0195062]
    r, c = [0.1, 0.2, 0.3], [0.4, 0.5, 0.6]
    network = network_of(c, [(0, 1, 1 / r[0]), (1, 2, 1 / r[1])], [(2, 0, 1 / r[2])])
    modes = modes_of(network)
    order = np.argsort(modes.rate)
    np.testing.assert_allclose(1 / modes.rate[order], taus_s, rtol=2e-5)
    got = modes.response[:3, 0] * modes.drive[0] / modes.rate
    np.testing.assert_allclose(got[order], amplitudes, rtol=2e-5)
    assert got.sum() == pytest.approx(0.6, rel=1e-12)


@pytest.mark.parametrize("t", [1e-3, 0.02, 0.05, 0.2, 2.0])
def test_two_stage_foster_and_cauer_forms_agree(t):
    """The ladder printed for a Foster pair has the pair's step response.

    Foster R 0.1, 0.2 K/W and C 0.3, 0.4 J/K are Cauer R 0.23902439, 0.06097561 and
    C 0.17142857, 0.96057143: constants in the tests of a general RC-network conversion library
    (GitHub, module thermal_network.conversions); exact values 49/205, 5/82, 6/35, 1681/1750.
    """
    foster = sum(r * -np.expm1(-t / (r * c)) for r, c in ((0.1, 0.3), (0.2, 0.4)))
    network = network_of(
        [0.17142857, 0.96057143], [(0, 1, 1 / 0.23902439)], [(1, 0, 1 / 0.06097561)]
    )
    got = Rig(network, 0.0).advance(t, [1.0, 0.0])[0]
    assert got == pytest.approx(foster, rel=5e-8)  # eight printed digits


def test_foster_and_cauer_sets_of_a_data_sheet():
    """Both printed forms of one part agree within 2 % of the total resistance.

    Vishay Siliconix R-C thermal model parameters Si5947DU_RC (27-Jun-07), junction to ambient. The
    maker fitted the two forms apart, so they are not exact equivalents.
    """
    foster_r, foster_c = (
        (23.9495, 7.4394, 20.585, 51.8046),
        (0.0027487, 0.0001537, 0.0481399, 0.8597477),
    )
    cauer_r, cauer_c = (
        (7.2873, 25.4282, 21.3216, 49.7799),
        (0.0001142154, 0.0021753, 0.0411592, 0.8412034),
    )
    links = [(i, i + 1, 1 / cauer_r[i]) for i in range(3)]
    network = network_of(cauer_c, links, [(3, 0, 1 / cauer_r[3])])
    for t in np.geomspace(1e-4, 1e3, 50):
        foster = sum(r * -np.expm1(-t / (r * c)) for r, c in zip(foster_r, foster_c, strict=True))
        got = Rig(network, 0.0).advance(t, [1.0, 0.0, 0.0, 0.0])[0]
        assert got == pytest.approx(foster, abs=0.02 * 103.8)


def test_cyclic_load_sugandhi_3_2():
    """A junction on a heat sink under cyclic load: 54.75 degC at the low load, then 93.9 at peak.

    Sugandhi & Sugandhi, Thyristors, 2nd ed. 1983, Example 3.2: method and inputs opened in the same
    collection, the low-load figure 54.75 printed there. The peak 93.9 is the book's formula
    evaluated for this check: the 106.01 printed in the collection comes from integer division.
    Only the sink stores heat; junction and case follow at once.
    """
    r_jc, r_cs, r_sa, tau_s, on_s, period_s = 0.02, 0.05, 0.12, 140.0, 60.0, 248.0
    network = network_of(
        [0.0, 0.0, tau_s / r_sa], [(0, 1, 1 / r_jc), (1, 2, 1 / r_cs)], [(2, 0, 1 / r_sa)]
    )
    rig = Rig(network, 50.0)
    low = rig.advance(1e5, [25.0, 0.0, 0.0], [50.0])[0]
    assert low == pytest.approx(54.75, abs=0.005)
    for _ in range(30):
        peak = rig.advance(on_s, [350.0, 0.0, 0.0], [50.0])[0]
        rig.advance(period_s - on_s, [25.0, 0.0, 0.0], [50.0])
    assert peak == pytest.approx(93.9, abs=0.05)
    assert rig.tally.peak_c[0] == pytest.approx(peak, abs=1e-4)


def test_pulses_through_one_pole():
    """10 W pulses at half duty through 5 K/W and 10 ms: 26.24896 K at peak, 23.75104 K at valley.

    Closed form by superposition, a textbook result, evaluated for this check.
    """
    rig = Rig(network_of([0.002], [], [(0, 0, 0.2)]), 0.0)
    for _ in range(400):
        peak = rig.advance(0.001, [10.0])[0]
        valley = rig.advance(0.001, [0.0])[0]
    assert [peak, valley] == pytest.approx([26.24896, 23.75104], rel=1e-6)


@pytest.mark.parametrize(("duty", "printed"), [(0.1, 0.537221), (0.5, 0.976790), (0.0, 0.478839)])
def test_pulses_through_seven_poles(duty, printed):
    """Peak impedance of seven Foster stages for 1 ms pulses at 10 %, 50 % and a single pulse.

    Foster set from a public notebook on repeated pulses (GitHub, bingsen-wang/PowerElectronics),
    which prints no figures; the values are the closed form per pole, evaluated for this check. A
    Foster chain has no nodes of its own, so each stage stands alone and the rises are added.
    """
    r = (0.002748817, 0.005715661, 0.04153561, 0.05616478, 0.3286516, 1.016057, 0.130071)
    c = (2.916343e-5, 1.725521e-4, 2.092143e-4, 1.786133e-3, 2.129755e-3, 8.451135e-3, 8.63404e-2)
    stages = network_of(c, [], [(i, 0, 1 / resistance) for i, resistance in enumerate(r)])
    rig, on, off = Rig(stages, 0.0), np.ones(7), np.zeros(7)
    peak = rig.advance(0.001, on).sum()
    for _ in range(500 if duty else 0):
        rig.advance(0.001 / duty - 0.001, off)
        peak = rig.advance(0.001, on).sum()
    assert peak == pytest.approx(printed, rel=SIX_DIGITS)


EMITTER = {
    "current_a": (0.1, 0.3, 0.5),
    "forward_voltage_v": (2.8, 3.0, 3.1),
    "radiant_flux_w": (0.1, 0.3, 0.45),
    "luminous_flux_lm": (30.0, 90.0, 140.0),
    "forward_voltage_slope_v_per_k": -3e-3,
    "junction_c": (25.0, 125.0),
    "radiant_ratio": (1.0, 0.8),
    "luminous_ratio": (1.0, 0.8),
    "junction_to_solder_resistance_k_per_w": 6.0,
    "resistance_convention": "electrical",
    "resistance_current_a": 0.3,
    "junction_capacitance_j_per_k": 2e-3,
}
"""Invented but for 3.0 V at 0.3 A and -3 mV/K."""


def test_forward_voltage_when_hot_khanna_14():
    """3.0 V at 25 degC and -3 mV/K give 2.7 V, 0.81 W at 125 degC and 0.3 A: 10 % less power.

    Khanna, Fundamentals of Solid-State Lighting (CRC 2014), chapter 14, eqs. 14.1 to 14.3.
    """
    powers_w = []
    for junction_c in (25.0, 125.0):
        plant = Plant(lamp({"main": CHANNEL | {"current_a": 0.3}}, emitters={"white": EMITTER}))
        plant.reset(np.array([junction_c]))
        drive(plant, 1e-9, [1.0], ambient_c=[junction_c])
        powers_w.append(plant.electrical_w[0])
    cold_w, hot_w = powers_w
    assert hot_w / 0.3 == pytest.approx(2.7, abs=0.005)
    assert [hot_w, cold_w] == pytest.approx([0.81, 0.9], abs=0.005)
    assert 100 * (1 - hot_w / cold_w) == pytest.approx(10.0, abs=0.05)


def test_real_resistance_counts_heat_only():
    """The real resistance refers to I V - radiant flux: leaving the light out understates it.

    Rule of JESD51-51 as stated in words in "When designing with power LEDs, consider their real
    thermal resistance" (techonline.com, abstract); the factor 1 - radiant / (I V) is written here.
    """
    real = real_resistance_k_per_w(Emitter.model_validate(EMITTER))
    assert 6.0 / real == pytest.approx(1 - 0.3 / (0.3 * 3.0), rel=1e-12)
