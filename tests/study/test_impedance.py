"""Impedances of each channel's hottest junction."""

import numpy as np
import pytest

from derate.plant.plant import Plant
from derate.study.impedance import impedances
from tests.study.lamps import DRAWN, demo, made, operating, shedding

LEFT = 1e-4
"""Relative: ten of the slowest time constants leave 5e-5 of a rise."""


@pytest.mark.parametrize("name", ["stage_wash", DRAWN])
def test_they_rise_from_nothing_to_the_resistance(name):
    """From next to nothing each rises, and above ambient it ends at the network's resistance."""
    ready = operating(demo(name))
    rest = ready.at(1.0, 28.0)
    for one in impedances(ready, rest):
        curves = [one.solder_k_per_w, one.ambient_k_per_w, *one.to.values()]
        for curve in curves:
            assert curve[0] < 0.01 * curve[-1]
        assert (np.diff(one.ambient_k_per_w) > 0).all()
        assert (one.ambient_k_per_w > one.solder_k_per_w - 1e-12).all()
        real = {"stage_wash": None, DRAWN: 6.8}[name]
        if real and one.channel == "red":  # and the solder joint below
            joint = 70e-6 / (57.0 * 1.6e-3 * 2.6e-3 * 0.8)
            assert one.solder_k_per_w[-1] == pytest.approx(real + joint, rel=LEFT)


def test_steady_rise_of_all_emitters():
    """What the emitters' heat times the impedance gives is the rise above ambient at rest.

    One channel and no other heat: the thermistor's own is taken away.
    """
    for lamp in (made(), shedding()):
        ready = operating(lamp)
        rest = ready.resting.rest(np.ones(1), np.array([20.0]))
        (one,) = impedances(ready, rest)
        junction = ready.hottest(rest)["spot"]
        each_w = rest.heat_w[0] / 3
        settled = one.ambient_k_per_w[-1] * each_w
        assert settled == pytest.approx(rest.node_c[junction] - 20.0, rel=LEFT)


def test_a_step_of_heat_in_the_plant():
    """The plant's junction rises by the impedance times its heat, which hardly changes."""
    lamp = made()
    ready = operating(lamp)
    (one,) = impedances(ready, ready.at(1.0, 25.0))
    plant = Plant(lamp)
    before_j = 0.0
    for time_s in (0.01, 0.3, 5.0, 60.0):
        plant.advance(time_s - plant.time_s, np.ones(1), np.ones(1), np.array([25.0]), np.zeros(1))
        mean_w = (plant.tally.heat_j[0] - before_j) / time_s / 3
        rise_k = plant.node_c[plant.junctions["spot"][0]] - 25.0
        z = np.interp(np.log(time_s), np.log(one.time_s), one.ambient_k_per_w)
        assert rise_k == pytest.approx(z * mean_w, rel=0.01)
    assert list(one.to) == []  # sensor and emitters sit on the same node
