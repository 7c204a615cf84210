"""Rectangles on plates: spreading resistances against plain series, networks and each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.errors import InputError
from derate.plant.board import greens, half_space, spreading
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import (
    Medium,
    circle_on_disc,
    equal_area_disc,
    isothermal_circle_on_bar,
    rectangle_on_plate,
    rectangle_on_plate_after,
)
from derate.plant.zth import impedance
from tests.plant.board.plain import passed
from tests.plant.rig import network_of

ALUMINIUM = Medium(138.0, thickness_m=1.5e-3, film_w_per_m2_k=2000.0)
LAMINATE = Medium(1.06, 0.34, thickness_m=1.6e-3, film_w_per_m2_k=500.0)
LENGTHS = st.floats(0.02, 0.1)
FILMS = st.one_of(st.floats(5.0, 1e5), st.just(math.inf))
CONDUCTIVITIES = st.floats(0.3, 400.0)
MEDIA = st.builds(Medium, CONDUCTIVITIES, CONDUCTIVITIES, st.floats(2e-4, 0.05), FILMS)
THICK = st.builds(
    Medium, st.floats(10.0, 400.0), st.floats(10.0, 99.0), st.floats(2e-3, 0.05), FILMS
)


@st.composite
def plates(draw, parts=1, least=1e-3, media=MEDIA):
    """A plate, rectangles anywhere on it, a medium."""
    plate_m = draw(LENGTHS), draw(LENGTHS)
    found = []
    for _ in range(parts):
        width, height = (side * draw(st.floats(least, 1.0)) for side in plate_m)
        x, y = (
            part / 2 + draw(st.floats(0.0, 1.0)) * (side - part)
            for side, part in zip(plate_m, (width, height), strict=True)
        )
        found.append(Rectangle(x, y, width, height))
    return plate_m, found, draw(media)


def whole_k_per_w(plate_m, source, medium):
    """Spreading and even part together."""
    even = medium.even_m2_k_per_w / math.prod(plate_m)
    return rectangle_on_plate(plate_m, source, medium) + even


def double_series(plate_m, source, medium, probe, terms):
    """The cosine series of Muzychka, Culham & Yovanovich as it stands, cut after ``terms``."""
    m = np.arange(terms)

    def shape(length, middle, width):
        return np.cos(m * np.pi * middle / length) * np.sinc(m * width / (2 * length))

    twice = np.where(m > 0, 2.0, 1.0)
    along, upwards = twice.copy(), twice.copy()
    for part in (source, probe):
        along *= shape(plate_m[0], part.x_m, part.width_m)
        upwards *= shape(plate_m[1], part.y_m, part.height_m)
    wave = np.hypot(m[:, None] * np.pi / plate_m[0], m * np.pi / plate_m[1])
    wave[0, 0] = 1.0
    felt = passed(wave, medium)
    felt[0, 0] = 0.0
    return along @ felt @ upwards / math.prod(plate_m)


SERIES = 1e-3
"""Relative to the whole: what 500 terms leave where a source takes a twentieth of a 2 mm plate."""


@given(plates(parts=2, least=0.05, media=THICK))
def test_rectangles_agree_with_the_double_series(case):
    """Mean over the source and over another rectangle equal the series, eccentric or not."""
    plate_m, (source, probe), medium = case
    scale = SERIES * whole_k_per_w(plate_m, source, medium)
    for felt in (source, probe):
        plain = double_series(plate_m, source, medium, felt, 500)
        got = rectangle_on_plate(plate_m, source, medium, probe=felt)
        assert got == pytest.approx(plain, abs=scale)


def test_the_double_series_runs_to_it():
    """The longer the series the nearer: what is left falls with the square of the terms."""
    source, plate_m = Rectangle(0.01, 0.02, 0.008, 0.006), (0.05, 0.03)
    got = rectangle_on_plate(plate_m, source, ALUMINIUM)
    left = [
        got - double_series(plate_m, source, ALUMINIUM, source, n) for n in (250, 500, 1000, 2000)
    ]
    np.testing.assert_array_less(np.diff(left), 0)
    assert left[-1] == pytest.approx(left[0] / 64, rel=0.1)
    assert left[-1] < 1e-6 * got


@given(plates())
def test_sums_are_converged(case):
    """Twice the nodes of the quadrature change nothing beyond the stated tolerance."""
    plate_m, (source,), medium = case
    got = whole_k_per_w(plate_m, source, medium)
    with pytest.MonkeyPatch.context() as patch:
        nodes, weights = np.polynomial.legendre.leggauss(64)
        patch.setattr(greens, "NODES", nodes)
        patch.setattr(greens, "WEIGHTS", weights)
        assert got == pytest.approx(whole_k_per_w(plate_m, source, medium), rel=spreading.TOLERANCE)


@given(plates(parts=2))
def test_source_and_probe_may_change_places(case):
    """A watt here lifts the mean there as a watt there lifts the mean here."""
    plate_m, (one, other), medium = case
    there = rectangle_on_plate(plate_m, one, medium, probe=other)
    back = rectangle_on_plate(plate_m, other, medium, probe=one)
    assert there == pytest.approx(
        back, abs=spreading.TOLERANCE * whole_k_per_w(plate_m, one, medium)
    )


@given(plates())
def test_the_even_part_is_left_out(case):
    """The mean over the whole plate is nothing, and so is the rise of heat that enters evenly."""
    plate_m, (source,), medium = case
    everywhere = Rectangle(plate_m[0] / 2, plate_m[1] / 2, *plate_m)
    scale = spreading.TOLERANCE * whole_k_per_w(plate_m, source, medium)
    mean = rectangle_on_plate(plate_m, source, medium, probe=everywhere)
    assert mean == pytest.approx(0.0, abs=scale)
    assert rectangle_on_plate(plate_m, everywhere, medium) == pytest.approx(0.0, abs=scale)


@given(plates(), st.floats(1.01, 10.0))
def test_more_conduction_never_warms(case, factor):
    """A better film, more conductivity along or across, each lowers the whole rise."""
    plate_m, (source,), medium = case
    before = whole_k_per_w(plate_m, source, medium)
    for name in ("along_w_per_m_k", "across_w_per_m_k", "film_w_per_m2_k"):
        better = medium._replace(**{name: getattr(medium, name) * factor})
        assert whole_k_per_w(plate_m, source, better) <= before * (1 + spreading.TOLERANCE)


def test_after_a_long_time_the_plate_is_at_rest():
    """The rise in time starts at nothing, only grows, and ends at spreading and even part."""
    source, plate_m = Rectangle(0.01, 0.02, 0.008, 0.006), (0.05, 0.03)
    times_s = [0.0, *np.geomspace(1e-6, 1e5, 30)]
    rise = rectangle_on_plate_after(times_s, 57e-6, plate_m, source, ALUMINIUM)
    assert rise[0] == 0.0
    assert (np.diff(rise[:20]) > 0).all()
    assert rise[-1] == pytest.approx(whole_k_per_w(plate_m, source, ALUMINIUM), rel=1e-8)


def test_at_first_a_source_sees_only_depth():
    """Before heat leaves the source it warms like a half-space heated everywhere: sqrt(t)."""
    source, plate_m = Rectangle(0.01, 0.02, 0.008, 0.006), (0.05, 0.03)
    got = rectangle_on_plate_after(1e-9, 57e-6, plate_m, source, ALUMINIUM)
    everywhere = 2 * math.sqrt(57e-6 * 1e-9 / math.pi) / (138.0 * 0.008 * 0.006)
    assert got == pytest.approx(everywhere, rel=1e-3)


@pytest.mark.parametrize("medium", [ALUMINIUM, LAMINATE])
def test_heat_that_enters_evenly_warms_like_a_chain(medium):
    """Heated everywhere, the plate warms in time as a network of 200 slices does."""
    area_m2, slices, heat = 1e-4, 200, 2.4e6
    step_m = medium.thickness_m / slices
    capacity = np.full(slices + 1, heat * area_m2 * step_m)
    capacity[[0, -1]] /= 2
    links = [(i, i + 1, medium.across * area_m2 / step_m) for i in range(slices)]
    network = network_of(capacity, links, [(slices, 0, medium.film_w_per_m2_k * area_m2)])
    times_s = np.geomspace(1e-3, 1e3, 15) * medium.thickness_m**2 * heat / medium.across
    got = rectangle_on_plate_after(
        times_s,
        medium.along_w_per_m_k / heat,
        (0.01, 0.01),
        Rectangle(0.005, 0.005, 0.01, 0.01),
        medium,
    )
    chain = impedance(network, "n0", "n0", times_s)
    np.testing.assert_allclose(got, chain, rtol=2e-3)  # a half slice at the earliest time


@pytest.mark.parametrize(
    ("call", "due"),
    [
        (lambda: half_space.circle_on_half_space(0.0, 1.0), "radius_m: found 0, due a positive"),
        (lambda: half_space.rectangle_on_half_space(1.0, -1.0, 1.0), "width_m: found -1"),
        (lambda: circle_on_disc(0.96, 1.0, Medium(1.0)), "due at most 0.95 of the half-width 1"),
        (lambda: isothermal_circle_on_bar(1.1, 1.0, 1.0), "found 1.1, due at most 1 of"),
        (lambda: equal_area_disc(2.0, 1.0, Medium(1.0)), "due at most the plate, 1 m"),
        (
            lambda: rectangle_on_plate((1.0, 1.0), Rectangle(0.9, 0.5, 0.4, 0.4), Medium(1.0)),
            "x: found a rectangle from 0.7 to 1.1 m, due one on the plate, from 0 to 1 m",
        ),
        (
            lambda: rectangle_on_plate((1.0, 1.0), Rectangle(0.5, 0.5, 0.0, 0.4), Medium(1.0)),
            "width_m: found 0, due a positive number",
        ),
        (
            lambda: rectangle_on_plate(
                (1.0, 1.0), Rectangle(0.5, 0.5, 0.1, 0.1), Medium(1.0, None, 1.0, 0.0)
            ),
            "film: found 0, due a positive number or infinity",
        ),
    ],
)
def test_refusals(call, due):
    """What has no spreading resistance is refused in one sentence."""
    with pytest.raises(InputError, match=due):
        call()
