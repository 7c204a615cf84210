"""The crest of pulsed heat, by its closed form, against worked and computed examples.

``test_thermal_transients.py`` has the same examples driven pulse by pulse.
"""

import numpy as np
import pytest

from derate.plant.ladder import foster_to_cauer
from derate.plant.modes import modes_of
from derate.plant.ripple import ripple_k
from tests.plant.rig import network_of

SIX_DIGITS = 1.5e-6
"""Relative: closed forms printed here with six or seven digits."""


def peak_k(network, period_s, duty, heat_w):
    """Rise of the first node [K] at the crest of pulses of ``heat_w`` [W] that enter it."""
    on_heat_w = np.zeros(len(network.names))
    on_heat_w[0] = heat_w
    mean_k = np.linalg.solve(network.conductance_w_per_k, duty * on_heat_w)
    crest_k = ripple_k(modes_of(network), period_s, np.full(len(on_heat_w), duty), on_heat_w)
    return mean_k[0] + crest_k[0]


def test_one_pole():
    """10 W at half duty through 5 K/W and 10 ms, 2 ms a period: 26.24896 K at the crest.

    Closed form by superposition, a textbook result; from memory, evaluated for this check.
    """
    network = network_of([0.002], [], [(0, 0, 0.2)])
    assert peak_k(network, 0.002, 0.5, 10.0) == pytest.approx(26.24896, rel=SIX_DIGITS)


def test_one_pole_at_the_ends():
    """The peak tends to P R duty for short periods and to P R for long ones (same source)."""
    network = network_of([0.002], [], [(0, 0, 0.2)])
    assert peak_k(network, 1e-7, 0.5, 10.0) == pytest.approx(25.0, rel=1e-5)
    assert peak_k(network, 1.0, 0.5, 10.0) == pytest.approx(50.0, rel=1e-9)


@pytest.mark.parametrize(("duty", "printed"), [(0.1, 0.537221), (0.5, 0.976790)])
def test_seven_poles(duty, printed):
    """Peak impedance of seven Foster stages for 1 ms pulses at 10 % and 50 %, as one ladder.

    Foster set from a public notebook on repeated pulses (GitHub, bingsen-wang/PowerElectronics,
    ThermalImpedance_RepeatedPulse.ipynb), which prints no figures; the values are the closed form
    per pole, from memory, evaluated for this check.
    """
    r = (0.002748817, 0.005715661, 0.04153561, 0.05616478, 0.3286516, 1.016057, 0.130071)
    c = (2.916343e-5, 1.725521e-4, 2.092143e-4, 1.786133e-3, 2.129755e-3, 8.451135e-3, 8.63404e-2)
    stages = foster_to_cauer(r, c)
    conductance = 1.0 / stages.resistance_k_per_w
    links = [(i, i + 1, g) for i, g in enumerate(conductance[:-1])]
    network = network_of(
        stages.capacitance_j_per_k, links, [(len(conductance) - 1, 0, conductance[-1])]
    )
    assert peak_k(network, 0.001 / duty, duty, 1.0) == pytest.approx(printed, rel=SIX_DIGITS)


def test_cyclic_load_sugandhi_3_2():
    """Junction at the low load 54.75 degC, at the crest of the cyclic load 93.9 degC.

    Sugandhi & Sugandhi, Thyristors, 2nd ed. 1983, Example 3.2 p. 10, read in GitHub
    FOSSEE/Python-Textbook-Companions: method, inputs, the low-load figure and the period, 248 s
    from equal root mean squares of the load, opened there. The crest 93.9 is the book's formula
    evaluated for this check, from memory; the companion's 106.01 comes from integer division. Only
    the sink stores heat.
    """
    r_jc, r_cs, r_sa, tau_s, on_s = 0.02, 0.05, 0.12, 140.0, 60.0
    assert (200**2 - 20**2) * on_s / (100**2 - 20**2) == pytest.approx(248.0, abs=0.6)
    network = network_of(
        [0.0, 0.0, tau_s / r_sa], [(0, 1, 1 / r_jc), (1, 2, 1 / r_cs)], [(2, 0, 1 / r_sa)]
    )
    low_c = 50.0 + 25.0 * (r_jc + r_cs + r_sa)
    assert low_c == pytest.approx(54.75, abs=0.005)
    high_c = low_c + peak_k(network, 248.0, on_s / 248.0, 350.0 - 25.0)
    assert high_c == pytest.approx(93.9, abs=0.05)
