"""Early detection: thresholds between two kinds of units, and what they are worth."""

import pickle

import numpy as np
import pytest

from derate.limits import early
from derate.limits.early import BAD, Detection, detections, look
from derate.limits.surroundings import MISSING, surroundings_of
from tests.limits.switched import lamp

EVEN = np.random.default_rng(0).permutation(np.linspace(0.0, 1.0, 60))


def test_a_gap_is_met_in_its_middle():
    """Of rates that do not overlap none lies on the wrong side."""
    found = look(5.0, EVEN, EVEN + 1.5)
    assert found.threshold_k_per_s == pytest.approx(1.25, abs=0.25)
    assert found.tells
    assert found.clear
    assert found.false_alarms.drawn == 40


def test_kinds_that_are_alike_are_not_told_apart():
    """Where rates overlap, some units lie on the wrong side and are counted."""
    generator = np.random.default_rng(1)
    good, bad = generator.normal(1.0, 0.2, (2, 150)) + np.array([[0.0], [0.1]])
    found = look(5.0, good, bad)
    assert not found.tells
    wrong = np.sum(good[50:] > found.threshold_k_per_s)
    assert found.false_alarms.over == wrong
    assert found.false_alarms.at_most > found.false_alarms.share


def test_units_that_chose_the_threshold_are_not_counted():
    """A unit on the wrong side among the choosing ones is no false alarm."""
    good = EVEN.copy()
    good[0] = 5.0
    assert look(5.0, good, EVEN + 1.5).false_alarms.over == 0


def test_the_earliest_clear_window_is_taken():
    """A narrow gap is passed over for a wide one, and an overlap for a narrow gap."""
    alike, narrow, wide = (look(w, EVEN, EVEN + w) for w in (0.5, 1.1, 2.0))
    assert Detection(BAD, (alike, narrow, wide)).best is wide
    assert Detection(BAD, (alike, narrow)).best is narrow
    assert Detection(BAD, (alike,)).best is alike


def test_without_heat_sink_the_reading_rises_faster(monkeypatch):
    """The rates of real runs: the worse the joint, the faster, once heat has reached it."""
    monkeypatch.setattr(early, "UNITS", 3)
    subject = lamp()
    task = pickle.dumps((subject, surroundings_of(subject), 0))
    good, bad, missing = (early.rates_with(task, factor) for factor in (1.0, BAD, MISSING))
    later = np.array(early.WINDOWS_S) >= 20.0
    assert good.shape == (3, len(early.WINDOWS_S))
    assert (good[:, later] < bad[:, later]).all()
    assert (bad[:, later] < missing[:, later]).all()


def test_without_rates_nothing_is_detected():
    """A lamp without a joint to degrade has no rates."""
    assert detections([]) == ()
