"""The predictive policy: what it estimates against the network itself, and what it makes of it."""

import itertools
import random
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import expm

from derate.control import predictive
from derate.control.air import Air, air_of
from derate.control.heat import full_heat
from derate.control.lags import lag_of
from derate.control.observer import CENTI, observer_of
from derate.control.rises import rises_of
from derate.errors import InputError
from derate.lamp import load
from derate.plant.network import Assembly
from tests.control.small_lamp import PREDICTIVE, small_lamp

DEMOS = Path(__file__).parents[2] / "sims"
ONE_Q15, ONE_Q31 = 1 << 15, 1 << 31
PERIODS = 3000
LOOSE_K = 4.0
"""How far an estimate may lie above the network: what it takes off the limit, and half the heat
that may be missing; figures of the demos are 1 to 3 K."""
STALL_K = 0.1
LEAST_AIRFLOW = 0.02
"""Of the first demo's profiles."""
HOT = "120 degC"
"""An ambient in which every place may reach its limit at any airflow."""
LARGEST_RISE_K = 327.0
ROUNDING_CENTI = 2
"""Rise and what is about to come are each rounded up."""


def demo(name, **policy):
    """A demo lamp under the predictive policy."""
    policy = {"kind": "predictive", "band": "2 K", "guard": "0 K"} | policy
    return load(DEMOS / f"{name}.toml").with_changes({"controller.policy": policy})


class Motion:
    """The network of a lamp, moved by a matrix exponential, and the firmware's filter."""

    def __init__(self, lamp, airflow=1.0):
        assembly, period_s = Assembly(lamp), lamp.timing.control_period_s
        network = assembly.network(airflow, {})
        heat = full_heat(lamp, assembly)
        causes = network.inject[:, : len(assembly.heated)] @ heat.most_w
        nodes, channels = causes.shape
        assert np.diag(network.capacitance_j_per_k).min() > 0.0
        inverse = np.linalg.inv(network.capacitance_j_per_k)
        moving = np.zeros((nodes + channels, nodes + channels))
        moving[:nodes, :nodes] = -inverse @ network.conductance_w_per_k
        moving[:nodes, nodes:] = inverse @ causes
        self.step = expm(moving * period_s)[:nodes]
        self.short = heat.short
        self.nodes = {place.name: place.nodes for place in rises_of(lamp).places}
        self.sensors = [assembly.place[body] for body in assembly.bodies]
        self.part = 2.0**-lamp.controller.filter_shift
        self.rise_k, self.filtered_k = np.zeros(nodes), 0.0

    def read(self):
        """What the filter gives at the next sample [K above ambient]."""
        self.filtered_k += (self.rise_k[self.sensors].max() - self.filtered_k) * self.part
        return self.filtered_k

    def go(self, shares):
        """Move through a period; the places' rises at its end [K above ambient]."""
        self.rise_k = self.step @ np.concatenate((self.rise_k, shares))
        return {name: self.rise_k[nodes].max() for name, nodes in self.nodes.items()}


def duties_of(rng, channels):
    """Duties that stay for a while and jump, some for long enough to warm everything through."""
    while True:
        duties = [rng.choice([0, 0, ONE_Q15, ONE_Q15, rng.randrange(ONE_Q15)]) for _ in channels]
        yield from itertools.repeat(duties, rng.choice([1, 3, 10, 40, 200, 1000]))


@pytest.mark.parametrize("name", ["cycle_front_lamp", "hand_lamp", "hunting_spot", "stage_wash"])
@pytest.mark.parametrize(("restart", "air"), [(None, 0), (1500, 0), (None, -1)])
def test_no_estimate_is_below_the_network(name, restart, air):
    """Whatever is driven, and with as little heat as there may be, no place is hotter than the
    estimate and what was taken off the limit for the fit, at the least and at the largest airflow;
    nor far cooler. A restart in the midst of it forgets all that was driven, and no estimate is
    too low for that."""
    lamp = demo(name, ambient=HOT)
    settings = predictive.settings_of(lamp, lamp.controller.policy)
    within = air_of(lamp, lamp.controller.policy)
    observer = observer_of(lamp, within)
    rows = [i for i, held in enumerate(observer.airflows) if within.airflows[air] in held]
    assert [observer.places[i] for i in rows] == list(dict.fromkeys(observer.places))
    missed_k = np.array(observer.missed_k)[rows]
    rng, motion = random.Random(name), Motion(lamp, within.airflows[air])
    state, above_k = predictive.rested(settings, [0] * len(lamp.channels)), []
    for n, duties in enumerate(itertools.islice(duties_of(rng, lamp.channels), PERIODS)):
        if n == restart:
            state = predictive.begin(settings)
        shares = np.array(duties) / ONE_Q15
        now_k = np.array(settings.now) @ shares / CENTI
        estimate_k = motion.read() + np.array(predictive.rises_centi_k(settings, state)) / CENTI
        less = motion.short * rng.random() * (rng.random() < 0.5)
        reached_k = list(motion.go(np.maximum(shares - less, 0.0)).values())
        above_k.append((estimate_k + now_k)[rows] - reached_k)
        state = predictive.driven(settings, state, duties)
    assert (np.min(above_k, axis=0) >= -missed_k).all()
    if restart is None:
        assert np.median(above_k, axis=0).max() < LOOSE_K


def test_a_soft_line_only_takes_light():
    """With it light falls while the tube is far below its end; at no reading is there more light,
    and where little light is left both are the same."""
    lights = []
    for soft in ("0 K", "25 K"):
        lamp = demo("hand_lamp", soft=soft)
        settings = predictive.settings_of(lamp, lamp.controller.policy)
        state = predictive.rested(settings, [0])
        readings_c = np.arange(30.0, 60.0, 0.1)
        lights.append(
            [predictive.limit(settings, state, c, [ONE_Q15])[0] for c in readings_c.tolist()]
        )
    plain, soft = np.array(lights)
    assert (soft <= plain).all()
    assert (soft[plain == 1.0] < 0.6).any()
    low = (plain > 0.0) & (plain < 0.2)
    assert low.any()
    assert (soft[low] == plain[low]).all()


def test_air_that_cannot_heat_a_place_to_its_limit_has_no_row():
    """The case of the stage light is estimated for a stopped fan alone; in hotter air, or where
    that is not known, for a fan that runs as well."""
    rows = {}
    for ambient in (None, HOT):
        lamp = demo("stage_wash", ambient=ambient)
        observer = observer_of(lamp, air_of(lamp, lamp.controller.policy))
        places = zip(observer.places, observer.airflows, strict=True)
        rows[ambient] = [held for place, held in places if place == "case"]
    assert rows == {None: [(0.05,)], HOT: [(0.05,), (1.0,)]}
    unknown = observer_of(lamp, Air((0.05, 1.0), None))
    assert unknown.places.count("case") == 2


def test_the_air_is_that_of_the_profiles_unless_it_is_told():
    """Least and largest airflow and hottest ambient of all profiles; those of a policy go first."""
    lamp = demo("hand_lamp")
    assert air_of(lamp, lamp.controller.policy) == Air((0.055, 1.0), 30.0)
    told = demo("hand_lamp", airflow=[2.0, 0.5], ambient="41 degC")
    assert air_of(told, told.controller.policy) == Air((0.5, 2.0), 41.0)
    bare = told.with_changes({"profiles": None, "controller.policy.airflow": None})
    assert air_of(bare, bare.controller.policy).airflows == (1.0,)


def test_without_what_is_unsure_a_restart_is_too_cold():
    """The check of restarts bites: an observer that takes what was before it for dark is below."""
    lamp = demo("cycle_front_lamp")
    settings = predictive.settings_of(lamp, lamp.controller.policy)
    motion, state = Motion(lamp, LEAST_AIRFLOW), predictive.begin(settings)
    for _ in range(1000):
        motion.read()
        reached_k = motion.go(np.ones(2))
    blind = settings._replace(unsure=(0,) * len(settings.places))
    estimate_k = motion.read() + np.array(predictive.rises_centi_k(blind, state)) / CENTI
    now_k = np.array(settings.now).sum(axis=1) / CENTI
    below_k = [reached_k[place] for place in settings.places] - estimate_k - now_k
    observer = observer_of(lamp, air_of(lamp, lamp.controller.policy))
    assert below_k.max() > max(observer.missed_k) + 1.0


@pytest.mark.parametrize("time_constant_s", [0.1, 5.0, 600.0, 20_000.0])
def test_a_slow_lag_does_not_stall(time_constant_s):
    """At 10 Hz a lag comes so close to full and to dark that no rise misses 0.1 K, at its pace."""
    lag = lag_of(time_constant_s, 0.1)
    for now, target in ((0, ONE_Q31), (ONE_Q31, 0)):
        part = target
        x, steps = now, 0
        while x != (x := predictive._follow(lag, x, target)):
            steps += 1
            if steps == round(time_constant_s / 0.1):
                part = x
        assert abs(target - x) / ONE_Q31 * LARGEST_RISE_K < STALL_K
        assert abs(part - now) / ONE_Q31 == pytest.approx(1.0 - np.exp(-1.0), abs=0.03)


def test_the_limit_solves_for_the_hottest_place():
    """At the limit found, the hottest place lies limit times band below where light ends."""
    lamp = small_lamp(PREDICTIVE | {"floor": 0.0})
    settings = predictive.settings_of(lamp, lamp.controller.policy)
    state = predictive.rested(settings, [0, 0])
    for reading_c, requests in ((78.0, [32768, 32768]), (81.0, [32768, 9000]), (83.0, [100, 0])):
        share, _ = predictive.limit(settings, state, reading_c, requests)
        lift = np.array(settings.now) @ np.array(requests) / ONE_Q15 * share
        at = reading_c * CENTI + np.array(predictive.rises_centi_k(settings, state)) + lift
        left = np.min(np.array(settings.end_centi_c) - at)
        assert 0.0 < share < 1.0
        assert left == pytest.approx(share * settings.band_centi_k, abs=ROUNDING_CENTI)


def test_less_is_asked_and_more_is_allowed():
    """A request for half the light is limited less, and one channel alone less than both."""
    lamp = small_lamp(PREDICTIVE | {"floor": 0.0})
    settings = predictive.settings_of(lamp, lamp.controller.policy)
    state = predictive.rested(settings, [0, 0])

    def allowed(requests):
        return predictive.limit(settings, state, 80.0, requests)[0]

    assert allowed([32768, 32768]) < allowed([16384, 16384]) < 1.0
    assert allowed([65535, 32768]) == allowed([32768, 32768]) <= allowed([32768, 0])


def test_the_floor_is_kept_and_cold_is_full():
    """Far too hot gives the floor, cold gives 1."""
    lamp = small_lamp(PREDICTIVE)
    settings = predictive.settings_of(lamp, lamp.controller.policy)
    state = predictive.begin(settings)
    full = [ONE_Q15, ONE_Q15]
    assert predictive.limit(settings, state, 110.0, full)[0] == int(0.1 * ONE_Q15) / ONE_Q15
    assert predictive.limit(settings, state, -327.0, full)[0] == 1.0


def test_only_what_is_watched_counts():
    """Places that are not watched are left out, junctions never."""
    lamp = demo("hand_lamp")
    policy = lamp.controller.policy
    assert predictive.settings_of(lamp, policy).places == ("main", "head", "tube")
    some = lamp.with_changes({"controller.policy.watch": ["tube"]}).controller.policy
    assert predictive.settings_of(lamp, some).places == ("main", "tube")
    none = lamp.with_changes({"controller.policy.watch": []}).controller.policy
    assert predictive.settings_of(lamp, none).places == ("main",)


@pytest.mark.parametrize(
    ("name", "watch", "told"),
    [
        ("hand_lamp", ["tub"], r'watch\[entry 1\]: found "tub", due a place with a limit.*"tube"'),
        ("hand_lamp", ["tube", "pads"], r'watch\[entry 2\]: found "pads"'),
    ],
)
def test_what_has_no_limit_is_not_watched(name, watch, told):
    """A place without a limit is refused by its entry, the nearest that has one named."""
    with pytest.raises(InputError, match=told):
        demo(name).with_changes({"controller.policy.watch": watch})


def test_a_lamp_that_rises_beyond_16_bits_is_refused():
    """A rise of more than 327 K cannot be held, and is told by its place."""
    lamp = demo("hunting_spot").with_changes(
        {"emitters.white.junction_to_solder_resistance": "300 K/W"}
    )
    with pytest.raises(InputError, match=r"policy\.kind: found \"predictive\" for spot, which may"):
        observer_of(lamp, air_of(lamp, lamp.controller.policy))
