"""Foster and Cauer sets of data sheets and of a conversion library.

Where an expected ladder was computed for this check it came from exact rational arithmetic, not
from the source.
"""

import numpy as np
import pytest

from derate.plant.ladder import cauer_to_foster, foster_to_cauer
from derate.plant.zth import impedance
from tests.plant.rig import network_of

EIGHT_DIGITS = 5e-9
"""Absolute: constants printed with eight decimals."""
COMPUTED = 3e-5
"""Relative: five or six digits computed for this check."""


def test_two_stages_of_a_conversion_library():
    """Foster 0.1, 0.2 K/W and 0.3, 0.4 J/K is Cauer 0.23902439, 0.06097561 and 0.1714, 0.9606.

    Constants in the tests of a general RC-network conversion library (GitHub, module
    thermal_network.conversions); exactly 49/205, 5/82, 6/35, 1681/1750.
    """
    printed = [[0.23902439, 0.06097561], [0.17142857, 0.96057143]]
    got = foster_to_cauer([0.1, 0.2], [0.3, 0.4])
    np.testing.assert_allclose(got, printed, rtol=0, atol=EIGHT_DIGITS)
    np.testing.assert_allclose(got, [[49 / 205, 5 / 82], [6 / 35, 1681 / 1750]], rtol=1e-15)
    np.testing.assert_allclose(cauer_to_foster(*got), [[0.1, 0.2], [0.3, 0.4]], rtol=1e-14)


def test_four_stages_of_a_thyristor():
    """Foster coefficients of the data sheet of Dynex DCR4420H65 as quoted in a public notebook
    (GitHub); K/kW and kJ/K. The Cauer set was computed for this check.
    """
    r, tau_s = np.array([1.248, 0.833, 0.606, 1.568]), np.array([0.67, 0.146, 0.02, 1.287])
    expected = (
        (0.98071, 1.54058, 1.54453, 0.189177),
        (0.0255843, 0.113984, 0.370558, 5.27804),
    )
    np.testing.assert_allclose(foster_to_cauer(r, tau_s / r), expected, rtol=COMPUTED)


def test_seven_stages_of_a_switch():
    """A set of seven from a public notebook on repeated pulses (GitHub,
    bingsen-wang/PowerElectronics) keeps its sum, 1.580944 K/W (added up for this check), as ladder.
    """
    r = (0.002748817, 0.005715661, 0.04153561, 0.05616478, 0.3286516, 1.016057, 0.130071)
    c = (2.916343e-5, 1.725521e-4, 2.092143e-4, 1.786133e-3, 2.129755e-3, 8.451135e-3, 8.63404e-2)
    cauer = foster_to_cauer(r, c)
    assert cauer.resistance_k_per_w.sum() == pytest.approx(1.580944, abs=5e-7)
    back = cauer_to_foster(*cauer)
    order = np.argsort(np.multiply(r, c))
    np.testing.assert_allclose(back, np.array([r, c])[:, order], rtol=1e-12)


PARTS = {
    "Si1012R_RC (02-Apr-07), junction to ambient": (
        (327.5464, 123.5765, 88.0766, 293.8005),
        None,
        (107.655, 207.6868, 426.5449, 91.1133),
        None,
    ),
    "Si4862DY_RC (01-Jun-07), junction to ambient": (
        (34.421, 5.487, 18.802, 21.29),
        (1.2814, 0.0209559, 0.0750816, 11.3428),
        (7.7368, 18.16, 37.3247, 16.7785),
        (0.0150827, 0.0531334, 1.0478, 9.5469),
    ),
    "Si4862DY_RC (01-Jun-07), junction to foot": (
        (4.7331, 1.4307, 1.5757, 8.2605),
        (0.0249402, 0.0231289, 3.5274, 0.1503408),
        (2.5741, 4.3623, 6.6949, 2.3687),
        (0.0100825, 0.0067682, 0.1119135, 0.8345832),
    ),
    "Si5947DU_RC (27-Jun-07), junction to ambient": (
        (23.9495, 7.4394, 20.585, 51.8046),
        (0.0027487, 0.0001537, 0.0481399, 0.8597477),
        (7.2873, 25.4282, 21.3216, 49.7799),
        (0.0001142154, 0.0021753, 0.0411592, 0.8412034),
    ),
    "Si4952DY_RC (09-May-07), junction to ambient": (
        (6.7278, 29.614, 25.911, 47.7472),
        None,
        (10.1112, 32.1645, 25.8678, 41.8565),
        None,
    ),
    "Si4952DY_RC (09-May-07), junction to foot": (
        (11.6583, 3.6731, 8.9996, 19.669),
        None,
        (6.2766, 20.6392, 14.5542, 2.53),
        None,
    ),
}
"""Vishay Siliconix R-C thermal model parameters (copies at dtsheet.com): Foster and Cauer."""
COMPLETE = [part for part, elements in PARTS.items() if elements[1]]


@pytest.mark.parametrize(
    ("part", "total"), list(zip(PARTS, (833.0, 80.0, 16.0, 103.8, 110.0, 44.0), strict=True))
)
def test_both_forms_of_a_data_sheet_add_up(part, total):
    """The resistances of both printed forms add up to the same total within 0.05 %.

    No total is printed: each is the sum of what is, and those of Si5947DU are 103.779 and 103.817.
    """
    foster_r, _, cauer_r, _ = PARTS[part]
    for r in (foster_r, cauer_r):
        chain = foster_to_cauer(r, np.geomspace(1e-3, 10.0, 4))
        assert chain.resistance_k_per_w.sum() == pytest.approx(total, rel=5e-4)


@pytest.mark.parametrize("part", COMPLETE)
def test_both_forms_of_a_data_sheet_warm_alike(part):
    """The printed ladder's step response is that of the printed pairs within 2 % of the total.

    The maker fitted the two forms apart: 0.5 to 1.2 % is what they really differ by.
    """
    foster_r, foster_c, cauer_r, cauer_c = (np.array(values) for values in PARTS[part])
    network = network_of(
        cauer_c, [(i, i + 1, 1 / cauer_r[i]) for i in range(3)], [(3, 0, 1 / cauer_r[3])]
    )
    time_s = np.geomspace(1e-4, 1e3, 300)
    pairs = -np.expm1(-time_s[:, None] / (foster_r * foster_c)) @ foster_r
    apart = np.abs(impedance(network, "n0", "n0", time_s) - pairs).max() / foster_r.sum()
    assert 0.004 < apart < 0.02


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        (
            COMPLETE[0],
            ((9.029, 17.952, 39.275, 13.744), (0.016153, 0.066621, 1.1451, 16.036)),
        ),
        (
            COMPLETE[1],
            ((4.9333, 3.3668, 6.8108, 0.88915), (0.011078, 0.027566, 0.14604, 6.0106)),
        ),
        (
            COMPLETE[2],
            ((8.3396, 25.969, 20.164, 49.306), (0.0001451, 0.0025347, 0.049355, 0.85003)),
        ),
    ],
)
def test_exact_ladders_of_the_printed_pairs(part, expected):
    """What the printed pairs are as a ladder, computed for this check, to its four or five digits.

    It is not the printed ladder, whose elements lie 14 % and more from these.
    """
    foster_r, foster_c, cauer_r, _ = PARTS[part]
    got = foster_to_cauer(foster_r, foster_c)
    np.testing.assert_allclose(got, expected, rtol=4e-4)
    assert np.abs(np.divide(cauer_r, got.resistance_k_per_w) - 1).max() > 0.05
