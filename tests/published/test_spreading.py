"""Spreading resistances against printed values and the formulas that carry a name.

Handbook here: Rohsenow, Hartnett, Cho, Handbook of Heat Transfer, 3rd ed. 1998, chapter 3, whose
formula set is printed with worked values in the help of a heat transfer library for an equation
solver (fchartsoftware.com/ees/heat_transfer_library/conduction_shape_factors, pages hs1001, hs1004,
hs1005, hs1013 to hs1015). Tolerances follow the printed digits. Plates: equations of Muzychka,
Culham & Yovanovich, J. Electron. Packag. 125 (2003) 178 and of Lee, Song, Au & Moran, ASME/JSME
Thermal Engineering Conf. 1995, vol. 4, 199-206, both from memory; their values were computed for
this check, by the double series (confirmed by finite volumes) and by the closed form.
"""

import math

import pytest

from derate.plant.board.half_space import (
    circle_on_half_space,
    isothermal_circle_on_half_space,
    rectangle_on_half_space,
)
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import (
    Medium,
    circle_on_disc,
    circle_on_square,
    equal_area_disc,
    isothermal_circle_on_bar,
    rectangle_on_plate,
)

FOUR_DIGITS = 5e-5
"""K/W, absolute: values printed as 0.1234."""
COMPUTED = 1e-3
"""Relative: four digits of values computed for this check."""


def test_isothermal_circle_on_a_half_space():
    """1 / (4 k a) is 0.25 K/W for 10 mm and 100 W/(m K): Handbook, page hs1001."""
    assert isothermal_circle_on_half_space(0.01, 100.0) == pytest.approx(0.25, abs=0.005)


def test_isoflux_circle_on_a_half_space():
    """Mean 0.2702 and centre 0.3183 over k a: Carslaw & Jaeger 1959, formulas from memory."""
    got = circle_on_half_space(1.0, 1.0)
    assert got == pytest.approx((0.2702, 0.3183), abs=FOUR_DIGITS)


def test_isoflux_square_on_a_half_space():
    """Half-widths of 1: mean 0.2366, centre 0.2805 (0.28055, cut): Handbook, hs1005 and hs1004."""
    got = rectangle_on_half_space(2.0, 2.0, 1.0)
    assert got.mean_k_per_w == pytest.approx(0.2366, abs=FOUR_DIGITS)
    assert got.centre_k_per_w == pytest.approx(0.2805, abs=FOUR_DIGITS + 1e-5)


def test_isoflux_circle_on_a_round_bar():
    """A circle of 1 on a bar of radius 2 adds 0.1023 K/W: Handbook, page hs1013."""
    got = circle_on_disc(1.0, 2.0, Medium(1.0)).mean_k_per_w
    assert got == pytest.approx(0.1023, abs=FOUR_DIGITS)


def test_isothermal_circle_on_a_round_bar():
    """The same at one temperature adds 0.08491 K/W: Handbook, page hs1014."""
    assert isothermal_circle_on_bar(1.0, 2.0, 1.0) == pytest.approx(0.08491, abs=5e-6)


def test_isoflux_circle_on_a_square_bar():
    """A circle of 1 on a bar of half-width 2 adds 0.1209 K/W: Handbook, page hs1015.

    The source prints the value of a polynomial fit; the series itself gives 0.12082, which would
    be printed as 0.1208.
    """
    fit_error = 3e-5
    got = circle_on_square(1.0, 4.0, Medium(1.0)).mean_k_per_w
    assert got == pytest.approx(0.1209, abs=FOUR_DIGITS + fit_error)


CASES = {
    "thin sheet in air": (0.025, 0.1, Medium(200.0, None, 1.3e-3, 50.0)),
    "small chip, good film": (0.0015, 0.02, Medium(138.0, None, 1.6e-3, 1000.0)),
    "board in air": (0.005, 0.04, Medium(138.0, None, 1.6e-3, 15.0)),
    "cold plate": (0.01, 0.05, Medium(167.0, None, 5e-3, math.inf)),
}
"""Side of the source and of the plate [m], plate."""


@pytest.mark.parametrize(
    ("case", "mean", "centre", "even"),
    [
        ("thin sheet in air", 0.5436, 0.6873, 2.0006),
        ("small chip, good film", 2.517, 2.954, 2.529),
        ("board in air", 1.269, 1.471, 41.674),
        ("cold plate", 0.1596, 0.2040, 0.011976),
    ],
)
def test_square_on_a_square_plate(case, mean, centre, even):
    """Centred squares on plates with a film, computed for this check: mean, centre, even part."""
    side, plate, medium = CASES[case]
    at = plate / 2
    source, point = Rectangle(at, at, side, side), Rectangle(at, at, 0.0, 0.0)
    size = (plate, plate)
    assert rectangle_on_plate(size, source, medium) == pytest.approx(mean, rel=COMPUTED)
    assert rectangle_on_plate(size, source, medium, probe=point) == pytest.approx(
        centre, rel=COMPUTED
    )
    assert medium.even_m2_k_per_w / plate**2 == pytest.approx(even, rel=COMPUTED)


@pytest.mark.parametrize(
    ("case", "quick", "series"),
    [
        ("thin sheet in air", (0.5142, 0.6699), (0.547, 0.6875)),
        ("small chip, good film", (2.365, 2.775), (2.538, 2.962)),
        ("board in air", (1.197, 1.445), (1.275, 1.471)),
        ("cold plate", (0.1681, 0.212), (0.1624, 0.2055)),
    ],
)
def test_discs_of_equal_area(case, quick, series):
    """The same as circles, computed for this check: closed form of Lee et al. and Bessel series."""
    side, plate, medium = CASES[case]
    assert equal_area_disc(side**2, plate**2, medium) == pytest.approx(quick, rel=COMPUTED)
    root = math.sqrt(math.pi)
    assert circle_on_disc(side / root, plate / root, medium) == pytest.approx(series, rel=COMPUTED)
