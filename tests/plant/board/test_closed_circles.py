"""Circles and half-spaces: spreading resistances against plain series, elements and limits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from derate.plant.board import half_space
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import (
    Medium,
    circle_on_disc,
    circle_on_square,
    equal_area_disc,
    isothermal_circle_on_bar,
    rectangle_on_plate,
)
from tests.plant.board.plain import passed

SERIES = 2e-4
"""Relative to the whole: what a thousand terms leave where the source is a twentieth wide."""


@given(st.floats(0.05, 0.9), st.floats(0.01, 3.0), st.floats(1e-3, 1e3))
def test_discs_agree_with_the_bessel_series(share, thickness, film):
    """Mean over a circle on a disc equals 4 / (pi e^2) sum of J1(d e)^2 / (d^2 J0(d)^2) phi(d)."""
    medium = Medium(1.0, None, thickness, film)
    zero = special.jn_zeros(1, 1100)
    terms = (2 * special.j1(zero * share) / (zero * share) / special.j0(zero)) ** 2
    plain = terms @ passed(zero, medium) / math.pi
    whole = plain + medium.even_m2_k_per_w / math.pi
    got = circle_on_disc(share, 1.0, medium)
    assert got.mean_k_per_w == pytest.approx(plain, abs=SERIES * whole)
    assert got.centre_k_per_w > got.mean_k_per_w


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_circle_on_a_square_agrees_with_its_series(share):
    """Mean over a circle on the end of a square bar equals the plain double cosine series."""
    m = np.arange(1500)
    wave = np.pi * np.hypot(m[:, None], m)
    wave[0, 0] = 1.0
    felt = (2 * special.j1(wave * share) / (wave * share)) ** 2 / wave
    felt[0, 0] = 0.0
    twice = np.where(m > 0, 2.0, 1.0)
    got = circle_on_square(share, 2.0, Medium(1.0))
    assert got.mean_k_per_w == pytest.approx(twice @ felt @ twice / 4, rel=SERIES)


@pytest.mark.parametrize("share", [1e-3, 1e-2])
def test_small_sources_see_a_half_space(share):
    """A source a thousandth of a thick body wide differs from a half-space by about as much."""
    bar, a_side = Medium(1.0), share
    circle = half_space.circle_on_half_space(share, 1.0)
    for found in (circle_on_disc(share, 1.0, bar), circle_on_square(share, 2.0, bar)):
        for got, limit in zip(found, circle, strict=True):
            assert got == pytest.approx(limit, rel=2 * share)
    rectangle = half_space.rectangle_on_half_space(a_side, a_side / 2, 1.0)
    source = Rectangle(0.5, 0.5, a_side, a_side / 2)
    centre = Rectangle(0.5, 0.5, 0.0, 0.0)
    assert rectangle_on_plate((1.0, 1.0), source, bar) == pytest.approx(
        rectangle.mean_k_per_w, rel=2 * share
    )
    assert rectangle_on_plate((1.0, 1.0), source, bar, probe=centre) == pytest.approx(
        rectangle.centre_k_per_w, rel=2 * share
    )


def potential(x, y, width, height):
    """Integral of 1 / distance over a rectangle around (0, 0), seen from the point (x, y)."""

    def corner(u, v):
        return u * np.arcsinh(v / np.abs(u)) + v * np.arcsinh(u / np.abs(v))

    (left, right), (low, high) = (
        (x - width / 2, x + width / 2),
        (y - height / 2, y + height / 2),
    )
    return corner(right, high) - corner(left, high) - corner(right, low) + corner(left, low)


@pytest.mark.parametrize("sides", [(1.0, 1.0), (3.0, 0.5)])
def test_mean_over_a_rectangle_is_that_of_its_points(sides):
    """The closed mean on a half-space equals the potential summed over 80 x 80 points."""
    nodes, weights = np.polynomial.legendre.leggauss(80)
    x, y = np.meshgrid(nodes * sides[0] / 2, nodes * sides[1] / 2, indexing="ij")
    points = potential(x, y, *sides) / (2 * math.pi * math.prod(sides))
    got = half_space.rectangle_on_half_space(*sides, 1.0)
    assert got.mean_k_per_w == pytest.approx(weights @ points @ weights / 4, rel=1e-6)
    assert got.centre_k_per_w == pytest.approx(
        float(potential(1e-9, 1e-9, *sides)) / (2 * math.pi * math.prod(sides)), rel=1e-7
    )


def test_isothermal_square_by_boundary_elements():
    """Patches of constant flux, small at the edges, run to the constant that is used."""
    found = []
    for patches in (16, 32):
        ends = np.sin(np.linspace(-np.pi / 2, np.pi / 2, patches + 1)) / 2
        middle, width = (ends[1:] + ends[:-1]) / 2, np.diff(ends)
        x, y = (part.ravel() for part in np.meshgrid(middle, middle))
        w, h = (part.ravel() for part in np.meshgrid(width, width))
        felt = potential(x[:, None] - x, y[:, None] - y, w, h) / (2 * math.pi)
        found.append(1 / (np.linalg.solve(felt, np.ones(len(x))) @ (w * h)))
    limit = found[1] - (found[0] - found[1]) / 3  # the error falls with the square of the width
    got = half_space.isothermal_square_on_half_space(1.0, 1.0)
    assert got == pytest.approx(limit, rel=5e-5)


@pytest.mark.parametrize(("share", "within"), [(0.1, 5e-4), (0.5, 5e-4), (0.7, 5e-4), (0.9, 0.02)])
def test_isothermal_circle_on_a_bar_by_rings(share, within):
    """The fit agrees, as far as it says, with rings of constant flux that share a temperature."""
    ends = share * np.sin(np.linspace(0, np.pi / 2, 61))
    n = np.arange(1, 12001)
    zero = (n + 0.25) * np.pi
    zero -= 3 / (8 * zero)
    for _ in range(3):
        zero -= special.j1(zero) / (special.j0(zero) - special.j1(zero) / zero)
    edge = ends[:, None] * special.j1(np.outer(ends, zero))
    ring = 2 * np.diff(edge, axis=0) / (np.diff(ends**2)[:, None] * zero)
    felt = (ring / (zero * special.j0(zero) ** 2)) @ ring.T / math.pi
    plain = 1 / np.linalg.solve(felt, np.ones(60)).sum()
    assert isothermal_circle_on_bar(share, 1.0, 1.0) == pytest.approx(plain, rel=within)


def test_even_flux_is_the_worse_way_in():
    """One temperature over the source conducts better than one flux, and the centre is hottest."""
    for isothermal, isoflux in (
        (
            half_space.isothermal_circle_on_half_space(1.0, 1.0),
            half_space.circle_on_half_space(1.0, 1.0),
        ),
        (
            half_space.isothermal_square_on_half_space(1.0, 1.0),
            half_space.rectangle_on_half_space(1.0, 1.0, 1.0),
        ),
        (isothermal_circle_on_bar(0.5, 1.0, 1.0), circle_on_disc(0.5, 1.0, Medium(1.0))),
    ):
        assert isothermal < isoflux.mean_k_per_w < isoflux.centre_k_per_w


@pytest.mark.parametrize(
    ("least_thickness", "mean", "centre"), [(0.05, 0.16, 0.30), (0.5, 0.04, 0.09)]
)
def test_the_short_closed_form_is_as_far_off_as_it_says(least_thickness, mean, centre):
    """Equal-area discs: the documented errors hold and are reached to more than two thirds."""
    worst = np.zeros(2)
    for share in np.linspace(0.05, 0.4, 6):
        for thickness in np.geomspace(least_thickness, 3.0, 8):
            for film in (1e-3, 0.1, 1.0, 10.0, math.inf):
                medium = Medium(1.0, None, thickness, film)
                quick = equal_area_disc(math.pi * share**2, math.pi, medium)
                exact = circle_on_disc(share, 1.0, medium)
                worst = np.maximum(worst, np.abs(np.divide(quick, exact) - 1))
    np.testing.assert_array_less(worst, (mean, centre))
    np.testing.assert_array_less(np.multiply(2 / 3, (mean, centre)), worst)
