"""The colour of a mix over a run, on lamps and traces made for it."""

import numpy as np
import pytest
from scipy.optimize import brentq

from derate.loop.run import run
from derate.loop.trace import Trace
from derate.plant.curve import value
from derate.plant.emitter import LUMINOUS, VOLTAGE, curves_of, voltage_v
from derate.plant.mix import asked_xyz, mixed_xyz, reference_lm
from derate.plant.tristimulus import distance, uv_of, xyz_per_lumen
from derate.study.colour import colour_course
from tests.study.lamps import demo

SAME = 1e-12
"""The same sums in floating point."""
SAME_LIGHT = 1e-9
"""Relative: currents found to some 1e-13, shifts that are small beside chromaticities."""
NAMES = ("red", "green", "blue", "white")
ROWS = 40
PLAIN = {f"emitters.{name}.spectrum.peak_shift": "0 nm/K" for name in NAMES[:3]}
"""Spectra that stay where they are."""


SHORT = {"profiles.show.duration": "30 s", "profiles.show.events": None}
"""The first scene of the show, without what happens later."""


def traced(lamp, *, request, duty, junction_c, time_s=None):
    """A trace of light that each channel gives at a duty and junction temperature, all rows."""
    time_s = np.arange(ROWS, dtype=float) if time_s is None else time_s
    columns = {"time_s": time_s}
    for name in lamp.channels:
        asked, at_c = request.get(name, 0.0), np.broadcast_to(junction_c.get(name, 25.0), ROWS)
        emitter = lamp.emitters[lamp.channels[name].emitter]
        ratio = np.interp(at_c, emitter.junction_c, emitter.luminous_ratio)
        columns[f"request_{name}"] = np.broadcast_to(asked, ROWS).astype(float)
        columns[f"junction_{name}_c"] = at_c.astype(float)
        lm = reference_lm(lamp, name, np.array(1.0)) * duty.get(name, 0.0) * ratio
        columns[f"light_{name}_lm"] = np.broadcast_to(lm, ROWS).astype(float)
    return Trace(columns)


@pytest.fixture(scope="module")
def wash():
    """The stage light, its spectra without a shift."""
    return demo("stage_wash").with_changes(PLAIN)


def test_a_common_share_keeps_the_colour(wash):
    """The same part taken from every channel at the reference temperature is no shift."""
    request = {"red": 0.9, "green": 0.5, "white": 1.0}
    duty = {name: 0.3 * asked for name, asked in request.items()}
    course = colour_course(wash, traced(wash, request=request, duty=duty, junction_c={}))
    assert course.largest < SAME
    assert course.judged_s == ROWS - 2  # the first row waits for the request, the last has no time


def test_the_channel_that_loses_light_is_what_the_mix_goes_away_from(wash):
    """A warm red shifts the mix away from red, along the line between red and the rest."""
    duty = {"red": 1.0, "green": 0.8}
    trace = traced(wash, request=duty, duty=duty, junction_c={"red": 100.0})
    course = colour_course(wash, trace)
    red, green = (uv_of(xyz_per_lumen(wash.emitters[name], 25.0)) for name in ("red", "green"))
    before, after = distance(course.asked_uv, red)[5], distance(course.uv, red)[5]
    assert after - before == pytest.approx(course.largest, rel=SAME_LIGHT)
    assert distance(course.uv, green)[5] < distance(course.asked_uv, green)[5]
    assert course.mean == pytest.approx(course.largest, rel=SAME_LIGHT)


def test_the_mean_counts_time(wash):
    """Rows of unequal length weigh by their length, and the largest is told with its time."""
    time_s = np.concatenate((np.arange(20.0), 20.0 + 3.0 * np.arange(20.0)))
    hot = {"red": np.where(np.arange(ROWS) < 20, 25.0, 100.0)}
    duty = {"red": 1.0, "green": 1.0}
    trace = traced(wash, request=duty, duty=duty, junction_c=hot, time_s=time_s)
    course = colour_course(wash, trace)
    judged_s, hot_s = 19.0 + 19 * 3.0, 19 * 3.0
    assert course.mean == pytest.approx(course.largest * hot_s / judged_s, rel=SAME_LIGHT)
    assert course.largest_s == 20.0
    assert course.judged_s == judged_s


def test_a_request_that_moves_is_not_judged(wash):
    """The row in which a request jumps holds light of both scenes and does not count."""
    jump = np.where(np.arange(ROWS) < 10, 0.2, 1.0)
    late = np.where(np.arange(ROWS) < 11, 0.2, 1.0)
    request, duty = {"red": jump, "green": 0.5}, {"red": late, "green": 0.5}
    course = colour_course(wash, traced(wash, request=request, duty=duty, junction_c={}))
    assert np.isnan(course.shift[10])
    assert course.largest < SAME


def test_the_shift_of_a_peak_is_seen():
    """Light of the right amounts whose red has moved is not what was asked."""
    lamp = demo("stage_wash")
    hot_c = {"red": 75.0, "green": 25.0}
    lm = {"red": np.array(100.0), "green": np.array(80.0)}
    cold, warm = (mixed_xyz(lamp, lm, {"red": c, "green": 25.0}) for c in (25.0, hot_c["red"]))
    assert cold[1] == pytest.approx(warm[1])
    assert distance(uv_of(cold), uv_of(warm)) > 1e-4


def test_branches_share_the_asked_current():
    """Unequal branches give the light of the currents at which their voltages are equal."""
    lamp = demo("stage_wash")
    emitter, channel = lamp.emitters["red"], lamp.channels["red"]
    curves = curves_of(emitter)

    def gap_v(first_a):
        each_v = [voltage_v(curves[VOLTAGE], np.log(a)) for a in (first_a, 2.0 - first_a)]
        return each_v[0] - (each_v[1] - 0.04)

    first_a = brentq(gap_v, 0.2, 1.8, xtol=1e-14)
    lm = channel.series * sum(value(curves[LUMINOUS], a) for a in (first_a, 2.0 - first_a))
    assert reference_lm(lamp, "red", np.array(1.0)) == pytest.approx(lm, rel=SAME_LIGHT)


def test_a_dimmed_current_is_not_a_dimmed_pulse(wash):
    """Half the current gives more than half the light where the curve bends; half a pulse half."""
    full = reference_lm(wash, "white", np.array(1.0))
    dimmed = wash.with_changes({"driver.dimming": "current", "driver.frequency": None})
    assert reference_lm(wash, "white", np.array(0.5)) == pytest.approx(0.5 * full)
    assert reference_lm(dimmed, "white", np.array(0.5)) > 0.51 * full


def test_a_mix_needs_two_coloured_channels(wash):
    """One channel alone, or one without a colour among the lit, gives no course."""
    one = traced(wash, request={"red": 1.0}, duty={"red": 1.0}, junction_c={})
    assert colour_course(wash, one) is None
    bare = wash.with_changes({"emitters.green.spectrum": None})
    duty = {"red": 1.0, "green": 1.0}
    assert colour_course(bare, traced(bare, request=duty, duty=duty, junction_c={})) is None
    lit = {"red": 1.0, "white": 1.0}
    assert colour_course(bare, traced(bare, request=lit, duty=lit, junction_c={})) is not None
    assert colour_course(wash, traced(wash, request=duty, duty={}, junction_c={})) is None


def test_what_is_asked_adds_up(wash):
    """X, Y, Z of two channels are the sums of theirs."""
    both = asked_xyz(wash, {"red": np.array(0.4), "blue": np.array(0.7)})
    apart = asked_xyz(wash, {"red": np.array(0.4)}) + asked_xyz(wash, {"blue": np.array(0.7)})
    np.testing.assert_allclose(both, apart, rtol=SAME)


def test_the_mix_of_a_run_leaves_what_was_asked_as_it_warms():
    """In the first scene of a show the mix goes from what was asked, steadily, as red fades."""
    lamp = demo("stage_wash").with_changes(SHORT)
    result = run(lamp)
    course = colour_course(lamp, result.trace)
    shift = course.shift[1:-1]
    assert np.all(np.diff(shift) > 0.0)
    assert course.largest == shift[-1] > shift[0] > 0.0
    red = uv_of(xyz_per_lumen(lamp.emitters["red"], 25.0))
    assert np.all(distance(course.uv, red)[1:-1] > distance(course.asked_uv, red)[1:-1])
