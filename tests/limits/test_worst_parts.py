"""What a bound rests on: the law above every policy, the line below every reading, the heats."""

import dataclasses
import itertools

import numpy as np
import pytest

from derate.control.command import ONE_Q15
from derate.control.policy import policy_of
from derate.lamp import Lamp
from derate.lamp.variation import variations
from derate.limits.worst.bound import with_prices
from derate.limits.worst.heats import heats_of
from derate.limits.worst.law import ROUNDING, law_of
from derate.limits.worst.reading import least_reading
from derate.limits.worst.study import _notes
from derate.loop.units import draw, unit_lamp
from derate.plant.emission import dark, emission_of, emit
from derate.plant.network import Assembly
from derate.sensing.chain import Chain
from tests.limits.bounded import Bounded
from tests.limits.lamps import late_lamp
from tests.loop.lamps import spot

READINGS_C = np.arange(-20.0, 99.0, 0.05)
POLICIES = {
    "none": {"kind": "none"},
    "foldback": {"kind": "foldback", "start": 45.0, "end": 70.0, "floor": 0.1, "hysteresis": 3.0},
    "steps": {
        "kind": "steps",
        "hysteresis": 2.0,
        "levels": [{"at": 45.0, "limit": 0.7}, {"at": 60.0, "limit": 0.2}],
    },
    "pi": {"kind": "pi", "setpoint": 50.0, "gain": 0.05, "integral": 0.002, "floor": 0.05},
    "predictive": {"kind": "predictive", "band": 20.0, "guard": 50.0},
}
PARTS = {"r25": 0.03, "b_value": 0.01, "resistor": 0.01, "resistor_drift_per_k": 1e-4}
CORNERS = 24
CLOSE_K = 5.0
"""A line so far below the body, or the nearest unit, would bound nothing worth its name [K]."""
HEAT_W = 1e-9
"""Sums of heats in another order."""


@pytest.mark.parametrize("kind", POLICIES)
def test_the_law_lies_nowhere_below_the_policy(kind):
    """At every reading, from its first state and from every other, a policy gives no more."""
    lamp = Lamp.model_validate(spot(controller={"policy": POLICIES[kind]}))
    law, policy = law_of(lamp), policy_of(lamp)
    full = [ONE_Q15] * len(lamp.channels)
    rising, falling = policy.begin(), policy.begin()
    given = np.zeros(len(READINGS_C))
    for i, reading_c in enumerate(READINGS_C.tolist()):
        fresh, _ = policy.limit(policy.begin(), reading_c, 0.1, full)
        up, rising = policy.limit(rising, reading_c, 0.1, full)
        given[i] = max(given[i], fresh, up)
        down, falling = policy.limit(falling, float(READINGS_C[-1 - i]), 0.1, full)
        given[-1 - i] = max(given[-1 - i], down)
    for most_c in (46.0, 61.0, 75.0, 99.0):
        lines = law.lines(most_c)
        known = most_c >= READINGS_C
        allowed = lines.height[:, None] - lines.slope[:, None] * READINGS_C[known]
        least = np.minimum(allowed.min(axis=0, initial=1.0), 1.0)
        assert np.all(given[known] <= least + ROUNDING)


def test_the_cut_off_is_in_the_law():
    """From the cut-off on the law has nothing, and a policy of one's own counts up to there."""
    law = law_of(Lamp.model_validate(spot(controller={"cutoff": 60.0})))
    assert law.reading_c[-1] == 60.0
    assert (law.limit[-2], law.limit[-1]) == (pytest.approx(0.46), 0.0)


@pytest.mark.parametrize("arrangement", ["pull-up", "pull-down"])
def test_no_unit_reads_below_the_line(arrangement):
    """Corners of the parts at random, noise and all: each tenth of a kelvin reads above it."""
    raw = spot(controller={"cutoff": 85.0})
    ntc = raw["sensors"]["ntc"]
    ntc["divider"]["arrangement"] = arrangement
    ntc["tolerance"] = PARTS
    ntc["adc"] = {"bits": 10, "noise": 0.5, "gain_error": 0.002, "offset": 1.0}
    lamp = Lamp.model_validate(raw)
    law = law_of(lamp)
    line = least_reading(lamp, "ntc", law, -10.0, 95.0)
    assert line.cold_k < CLOSE_K
    body_c = np.arange(0.0, 95.0, 0.1)
    generator = np.random.default_rng(0)
    draws = draw(lamp, range(CORNERS), 0)
    ends = {limits.key: limits for one in variations(lamp) for limits in one.keys}
    sides = generator.integers(0, 2, draws.values.shape).astype(bool)
    values = [
        [ends[key].high if up else ends[key].low for key, up in zip(draws.keys, row, strict=True)]
        for row in sides
    ]
    corners = dataclasses.replace(draws, values=np.array(values))
    nearest_k = np.inf
    for unit in range(CORNERS):
        chain = Chain(unit_lamp(lamp, corners, unit), "ntc")
        read_c = np.array([
            chain.reading_c(chain.sense(float(at_c), unit=unit, tick=k))
            for k, at_c in enumerate(body_c)
        ])  # fmt: skip
        seen = np.isfinite(read_c) & (read_c < lamp.controller.cutoff_c)
        above_k = read_c[seen] - (line.gain * body_c[seen] + line.offset_c)
        nearest_k = min(nearest_k, float(above_k.min()))
    assert 0.0 <= nearest_k < CLOSE_K


@pytest.mark.parametrize("dimming", ["pwm", "current"])
@pytest.mark.parametrize("odd", [False, True])
def test_heats_lie_between_their_ends(dimming, odd):
    """At random temperatures and duties; also where the most heat is at less than full current."""
    raw = spot(driver={"dimming": dimming, "efficiency": 0.9, "heat_node": "sink"})
    raw["channels"]["other"] = raw["channels"]["spot"] | {"parallel": 2, "current": 1.4,
                                                          "solder_point": "sink"}  # fmt: skip
    raw["profiles"] = {}
    if odd:
        raw["emitters"]["white"]["radiant_flux"] = [0.12, 0.3, 2.0]
        raw["driver"]["efficiency"] = 1.0
    lamp = Lamp.model_validate(raw)
    assembly = Assembly(lamp, even=True)
    emission = emission_of(lamp, assembly.branches, assembly.groups)
    inputs = assembly.network(1.0, {}).inject.shape[1]
    heats = heats_of(emission, inputs, -10.0, 120.0)
    assert (len(heats.shares) > 2 and heats.shares[-2] == 1.0) == (odd and dimming == "current")
    generator = np.random.default_rng(1)
    for duties in generator.choice([0.0, 0.1, 0.35, 0.62, 0.9, 1.0], (300, 2)):
        junction_c = generator.uniform(-10.0, 120.0, len(emission.group))
        heat_w, output = np.zeros(inputs), np.zeros((3, 2))
        emit(emission, dark(emission), junction_c, duties, duties, heat_w, output)
        shares = np.interp(duties, heats.duties, heats.shares)
        assert np.all(heat_w <= shares @ heats.most_w + heats.free_w + HEAT_W)
        assert np.all(heat_w >= duties @ heats.least_w - HEAT_W)


def test_any_prices_bound():
    """Weak duality: prices drawn at random give no less than what a history reaches."""
    tried = Bounded(late_lamp())
    generator = np.random.default_rng(2)
    place = tried.places[0]
    (plan,) = tried.plans()
    reached_c = tried.peaks_c(plan)[place.bound.node]
    found = []
    for scale, spread in itertools.product((0.03, 0.3, 3.0, 30.0), (0.1, 3.0)):
        best = place.bound.prices
        of_line = best.of_line * scale * generator.exponential(spread, best.of_line.shape)
        prices = best._replace(of_line=of_line)
        other = dataclasses.replace(place.bound, prices=prices)
        found.append(with_prices(tried.watched, place.bound.node, other).at_c)
    assert min(found) > reached_c
    assert max(found) > place.bound_c + 1.0


def test_heat_that_does_not_rise_is_noted():
    """Where more current means less heat the study says so."""
    raw = spot(driver={"dimming": "current"})
    raw["emitters"]["white"]["radiant_flux"] = [0.12, 0.6, 2.4]
    lamp = Lamp.model_validate(raw)
    notes = _notes(lamp, law_of(lamp), Bounded(lamp).watched)
    assert any("does not rise" in note for note in notes)
