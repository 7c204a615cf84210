"""Units of a lamp: against closed forms, and the same numbers however they are run."""

import functools
import math
import multiprocessing
import os
import signal
from dataclasses import fields

import numpy as np
import pytest
from scipy import stats

from derate.errors import InputError, SurroundingsError
from derate.lamp import Lamp
from derate.loop.run import run
from derate.loop.units import draw, unit_lamp, unit_profile
from derate.study import spread_runners
from derate.study.spread import study_spread
from derate.study.spread_runners import here, on_cluster, on_processes
from derate.study.spread_units import Figures, Job, Units, joined
from tests.loop.lamps import spot

UNITS = 1500
ERRORS = 4.0
"""How many standard errors a sample may lie off; the draws are the same in every run."""
EXACT_K = 1e-9
"""Batch and timeline are the same arithmetic."""
AMBIENT_C, RESISTANCE, JUNCTION_TO_SOLDER, SIGMA = 25.0, 5.0, 3.0, 0.04
HEAT_W = 3 * (3.1 * 1.0 - 1.1)
"""Three emitters in series at 1 A, 3.1 V, 1.1 W of light."""
FOLDBACK = {"kind": "foldback", "start": 30.0, "end": 60.0, "floor": 0.1}
LIMIT_C = 25.0 + HEAT_W * 5.0 * 1.06
"""Of the board: 1.5 sigma above its mean."""


def linear(**more):
    """One node, one resistance to ambient that is normal, heat that follows nothing."""
    raw = spot(
        emitters={
            "white": {
                "current": [0.5, 1.0],
                "forward_voltage": [2.9, 3.1],
                "radiant_flux": [0.6, 1.1],
                "luminous_flux": [190.0, 340.0],
                "forward_voltage_slope": 0.0,
                "junction": [25.0, 125.0],
                "radiant_ratio": [1.0, 1.0],
                "luminous_ratio": [1.0, 1.0],
                "junction_to_solder_resistance": JUNCTION_TO_SOLDER,
                "resistance_convention": "real",
                "junction_capacitance": 0.001,
            }
        },
        nodes={"board": {"capacitance": 1.0, "limit": LIMIT_C}},
        links=[{"name": "out", "between": ["board", "ambient"], "resistance": RESISTANCE}],
        controller={"body": "c", "policy": {"kind": "none"}, "cutoff": 120.0},
        driver={"dimming": "current"},
        timing={"control_period": 0.5},
        profiles={"on": {"duration": 150.0, "ambient": AMBIENT_C, "request": {"spot": 1.0}}},
        tolerances={
            "out": {"of": "links.out.resistance", "spread": 3 * SIGMA, "truncated": False},
            **more,
        },
    )
    del raw["nodes"]["sink"]
    return Lamp.model_validate(raw)


@functools.cache
def studied():
    """Units of the linear lamp."""
    lamp = linear()
    return study_spread(lamp, lamp.profiles["on"], profile_name="on", units=UNITS, seed=2)


def test_mean_and_spread_of_a_linear_lamp():
    """Peaks at rest are normal: mean and deviation follow from those of the one resistance."""
    figures, deviation_k = studied().figures, HEAT_W * RESISTANCE * SIGMA
    board_c, junction_c = figures.peak_c[:, 1], figures.peak_c[:, 0]
    mean_c = AMBIENT_C + HEAT_W * RESISTANCE
    error_k = deviation_k / math.sqrt(UNITS)
    assert abs(board_c.mean() - mean_c) < ERRORS * error_k
    assert abs(board_c.std() - deviation_k) < ERRORS * deviation_k / math.sqrt(2 * UNITS)
    own_k = HEAT_W / 3 * JUNCTION_TO_SOLDER
    assert abs(junction_c.mean() - mean_c - own_k) < ERRORS * error_k
    assert stats.kstest(board_c, stats.norm(mean_c, deviation_k).cdf).pvalue > 1e-3


def test_share_over_a_limit():
    """As many units are over as the normal law says, and the interval holds the true share."""
    study, true = studied(), float(stats.norm.sf(1.5))
    assert abs(study.over.share - true) < ERRORS * math.sqrt(true * (1 - true) / UNITS)
    assert study.over.low < true < study.over.high
    assert not study.held
    assert study.over_each[1].over == study.over.over
    assert study.over_each[0].over == 0


def test_quantiles_and_worst():
    """Quantiles are those of the units; the worst units are those of least margin, in order."""
    study = studied()
    margin_k = study.figures.margin_k
    assert study.margin_k.worst == margin_k.min() == margin_k[study.worst[0]]
    assert list(margin_k[list(study.worst)]) == sorted(margin_k)[:5]
    assert study.margin_k.quantiles[2] == np.median(margin_k)
    assert study.near == np.count_nonzero((margin_k >= 0) & (margin_k < study.guard_k))
    assert study.share.worst == pytest.approx(1.0)


def test_a_planted_tolerance_is_found():
    """Of four tolerances the one made dominant comes first, in the direction physics gives it."""
    lamp = linear(
        chip={"of": "emitters.white.junction_to_solder_resistance", "spread": 0.05},
        flux={"of": "emitters.white.luminous_flux", "spread": 0.06},
        place={"of": "ambient", "spread": "1 K"},
    )
    study = study_spread(lamp, lamp.profiles["on"], units=300)
    margin, light = study.importances["margin"], study.importances["light"]
    assert margin.effects[0].name == "out"
    assert margin.effects[0].first > 0.8
    assert margin.effects[0].slopes["out"] < 0
    assert light.effects[0].name == "flux"
    assert light.effects[0].slopes["flux"] > 0
    assert study.importances["share"] is None


def test_numbers_do_not_depend_on_company():
    """A unit has the same figures alone, in other shares, in another order and by any threads."""
    lamp = linear(
        place={"of": "ambient", "spread": "3 K"},
        ntc={"of": "sensors.ntc.adc.offset", "spread": "2 LSB"},
    )
    job = Job(lamp, lamp.profiles["on"], 7)
    whole = Units(job, threads=1).figures(range(20))
    units = Units(job, threads=2)
    parts = joined(
        [units.figures([19, 13, 14, 15]), units.figures([16, 17, 18]), units.figures(range(13))]
    )
    for field in fields(Figures):
        assert np.array_equal(getattr(whole, field.name), getattr(parts, field.name)), field.name


def test_a_unit_on_the_timeline():
    """The reference clock gives a unit the very figures that the study kept of it."""
    lamp = linear(place={"of": "ambient", "spread": "3 K"}, wind={"of": "airflow", "spread": 0.3})
    profile, unit = lamp.profiles["on"], 11
    figures = Units(Job(lamp, profile, 7)).figures([unit])
    draws = draw(lamp, [unit], 7)
    merit = run(
        unit_lamp(lamp, draws, unit), unit_profile(profile, draws, unit), seed=7, unit=unit
    ).merit
    assert abs(merit.channels["spot"].peak_junction_c - figures.peak_c[0, 0]) < EXACT_K
    assert abs(merit.nodes["board"].peak_c - figures.peak_c[0, 1]) < EXACT_K
    assert merit.light_lm_h == pytest.approx(figures.light_lm_h[0], rel=1e-12)


def test_stopped():
    """Stopped early, what is done stays, and says how much was wanted."""
    lamp, told = linear(), []
    study = study_spread(
        lamp,
        lamp.profiles["on"],
        units=3 * Units.share,
        doing=told.append,
        stop=lambda: len(told) > 1,
    )
    assert (len(study.figures.units), study.asked) == (Units.share, 3 * Units.share)
    assert f"{Units.share} of {3 * Units.share} units have run" in told


def test_refusals():
    """A file of one unit has nothing to spread."""
    lamp = linear()
    one = lamp.with_changes({"lamp.unit": 4})
    with pytest.raises(InputError, match=r"lamp.unit: found 4, due a lamp whose units differ"):
        study_spread(one, one.profiles["on"])


def test_other_bodies_and_tasks():
    """A body in Python and tasks of other periods are run all the same."""
    for change in ({"controller.body": "python"}, {"timing.adc_period": 0.25}):
        lamp = linear().with_changes({**change, "profiles.on.duration": 5.0})
        study = study_spread(lamp, lamp.profiles["on"], units=2)
        assert len(study.figures.units) == 2


def same(one, other):
    """Whether all figures of the units are the same to the last digit."""
    return all(
        np.array_equal(getattr(one, field.name), getattr(other, field.name))
        for field in fields(Figures)
    )


@functools.cache
def four_shares():
    """A job of four shares, and its figures from this process."""
    lamp = linear().with_changes({"profiles.on.duration": 20.0})
    job = Job(lamp, lamp.profiles["on"], 3)
    return job, joined(here(job, 4 * Units.share))


@pytest.mark.slow
def test_other_processes(monkeypatch):
    """Two processes give the same numbers, also when one of them is killed at its work."""
    job, desired = four_shares()
    pools, pool = [], spread_runners._pool
    monkeypatch.setattr(spread_runners, "_pool", lambda n: pools.append(pool(n)) or pools[-1])
    runs = on_processes(2)(job, 4 * Units.share)
    found = [next(runs)]
    multiprocessing.active_children()[0].kill()
    assert same(joined([*found, *runs]), desired)
    assert len(pools) == 2


@pytest.mark.slow
def test_a_cluster():
    """A scheduler with two workers gives the same numbers, also when one of them is killed."""
    distributed = pytest.importorskip("distributed")
    job, desired = four_shares()
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        runs = on_cluster(cluster.scheduler_address)(job, 4 * Units.share)
        found = [next(runs)]
        os.kill(next(iter(cluster.workers.values())).pid, signal.SIGKILL)
        assert same(joined([*found, *runs]), desired)


def test_nobody_answers(monkeypatch):
    """Without a scheduler at the address one sentence says so."""
    pytest.importorskip("distributed")
    monkeypatch.setattr(spread_runners, "CLUSTER_TIMEOUT_S", 1.0)
    job, _ = four_shares()
    with pytest.raises(SurroundingsError, match="no scheduler answers"):
        list(on_cluster("tcp://127.0.0.1:9")(job, 4))


def test_noise_alone():
    """Without tolerances the units differ by noise, and the study says so."""
    lamp = linear().with_changes({"tolerances": None})
    study = study_spread(lamp, lamp.profiles["on"], units=3)
    assert study.warnings[0].startswith("nothing in the lamp file varies from unit to unit")
    assert study.drawn == ()
