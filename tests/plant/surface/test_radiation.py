"""View factors and the black area of a channel."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.plant.surface.radiation import (
    channel_black_m2,
    channel_opening_m2,
    corner_view,
    opposite_view,
)

ROUNDING = 1e-9
"""Relative: closed forms with differences of logarithms."""
PRINTED = 5e-5
"""Half of the last digit."""
SHALLOW = 1e-4
"""Relative: a channel 0.1 um deep has hardly any sides."""
lengths = st.floats(0.01, 1.0)
emissivities = st.floats(0.01, 1.0)


@given(lengths, lengths, lengths)
def test_views_from_one_wall_of_a_box_sum_to_one(width, length, distance):
    """What leaves one wall of a closed box meets the five others."""
    seen = (
        opposite_view(width, length, distance)
        + 2.0 * corner_view(width, length, distance)
        + 2.0 * corner_view(length, width, distance)
    )
    assert seen == pytest.approx(1.0, rel=ROUNDING)


@given(lengths, lengths, lengths)
def test_views_are_reciprocal(edge, one, other):
    """Area times view factor is the same in both directions."""
    there, back = one * corner_view(edge, one, other), other * corner_view(edge, other, one)
    assert there == pytest.approx(back, rel=ROUNDING)


def test_views_of_a_cube():
    """Each wall of a cube sees each other one with about 0.2 (0.1998 opposite, 0.2000 beside).

    Textbook values (Incropera, figures 13.4 and 13.5; from memory).
    """
    assert opposite_view(1.0, 1.0, 1.0) == pytest.approx(0.1998, abs=PRINTED)
    assert corner_view(1.0, 1.0, 1.0) == pytest.approx(0.2000, abs=PRINTED)


RAYS = 200_000
SCATTER = 4.0
"""Standard deviations a random count may be off."""


def test_opening_of_a_channel_by_casting_rays():
    """Of rays from the openings of a channel as many meet its walls as the view factors say."""
    length, gap, depth = 0.06, 0.01, 0.02
    top, end = length * gap, depth * gap
    rng = np.random.default_rng(11)
    room = np.array([length, gap, depth])
    from_top = rng.random(RAYS) < top / (top + 2.0 * end)
    start = rng.random((RAYS, 3)) * room
    start[from_top, 2] = depth
    start[~from_top, 0] = 0.0  # both ends are alike
    sine, around = np.sqrt(rng.random(RAYS)), 2.0 * np.pi * rng.random(RAYS)
    across = np.stack([sine * np.cos(around), sine * np.sin(around)], axis=1)
    away = np.sqrt(1.0 - sine**2)[:, None]
    direction = np.where(
        from_top[:, None],
        np.hstack([across, -away]),
        np.hstack([away, across]),
    )
    with np.errstate(divide="ignore"):
        reach = np.where(direction > 0.0, room - start, -start) / direction
    reach[np.arange(RAYS), np.where(from_top, 2, 0)] = np.where(
        from_top, depth / away[:, 0], length / away[:, 0]
    )
    hit = reach.argmin(axis=1)
    upwards = direction[:, 2] > 0.0
    leaves = (hit == 0) | ((hit == 2) & upwards)
    share = 1.0 - leaves.mean()
    expected = channel_opening_m2(length, gap, depth) / (top + 2.0 * end)
    assert abs(share - expected) < SCATTER * math.sqrt(expected * (1.0 - expected) / RAYS)


@given(lengths, lengths, lengths, emissivities)
def test_a_channel_radiates_less_than_its_walls_and_its_openings(length, gap, depth, emissivity):
    """Its black area is less than that of walls that do not see each other, and than its mouths."""
    black = channel_black_m2(length, gap, depth, emissivity)
    slack = 1.0 + ROUNDING
    assert 0.0 < black <= emissivity * length * (gap + 2.0 * depth) * slack
    assert black <= (length * gap + 2.0 * depth * gap) * slack


@given(lengths, lengths, lengths)
def test_a_channel_is_blacker_than_its_walls(length, gap, depth):
    """Cavity effect: the share of its view that it radiates exceeds the emissivity of its walls."""
    opening = channel_opening_m2(length, gap, depth)
    assert channel_black_m2(length, gap, depth, 0.3) > 0.3 * opening


def test_limits_of_a_channel():
    """Shallow it radiates like its floor, black like its view, with emissivity 0 not at all."""
    assert channel_black_m2(0.06, 0.01, 1e-7, 0.4) == pytest.approx(0.4 * 0.06 * 0.01, rel=SHALLOW)
    black = channel_black_m2(0.06, 0.01, 0.02, 1.0)
    assert black == pytest.approx(channel_opening_m2(0.06, 0.01, 0.02), rel=ROUNDING)
    assert channel_black_m2(0.06, 0.01, 0.02, 0.0) == 0.0
