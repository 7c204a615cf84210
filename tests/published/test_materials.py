"""The built-in materials against tables, and the units they are written in.

*Table*: an entry of the source as it stands there. *Computed*: evaluated here from coefficients
or figures that the source prints. Values that the list calls common practice have no check here.
"""

import math

import pytest

from derate.lamp.board import Interface
from derate.lamp.material import built_in_materials
from derate.lamp.quantities import convert

AS_PRINTED = 0.005
"""Relative: the tables print three digits or more, and the list writes them as they are."""
SAMPLES_OF_COPPER = 0.03
"""Relative: pure coppers of two tables differ by 2.3 % in conductivity."""
SAMPLES_OF_ALUMINIUM = 0.08
"""Relative: the figures of sheets and those of measured samples of 6061-T6 differ by 7 %."""
SAMPLES_OF_LAMINATE = 0.35
"""Relative: resin and glass differ from laminate to laminate; two tables by up to 31 %."""
SAMPLES_OF_NITRIDE = 0.05
GRADES_OF_ALUMINA = 0.3
"""Relative: a few percent of glass in a ceramic cost a fifth of its conductivity."""
ALIKE = 0.03
"""Relative: density and specific heat hardly differ between grades of one ceramic."""

WHOLE_ROWS = {
    "aluminium_6061": (2700.0, 896.0, 167.0, "cctprecision.com aluminium data sheet"),
    "aluminium_alloy": (
        2770.0, 875.0, 177.0,
        "Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, Example 5.3"
        " p. 267, read in a companion notebook (FOSSEE/Python-Textbook-Companions); 2024-T6 as"
        " recalled",
    ),
    "copper": (
        8930.0, 383.0, 391.0,
        "Kreith, Manglik, Bohn, Principles of Heat Transfer, 7th ed. 2011, Example 2.10 p. 119,"
        " Appendix 2 Table 12, read in a companion notebook (FOSSEE/Python-Textbook-Companions)",
    ),
    "alumina": (
        3800.0, 890.0, 24.0,
        "makeitfrom.com, Type III alumina ASTM D2442 / IEC 60672 C-795, 97-99 %",
    ),
    "aluminium_nitride": (
        3260.0, 820.0, 170.0,
        "microwaves101.com encyclopedia, aluminum nitride",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WHOLE_ROWS)
def test_a_material_is_as_its_table_prints_it(name):
    """Density, specific heat and conductivity as in the table named beside them (table)."""
    density, specific_heat, conductivity, _source = WHOLE_ROWS[name]
    material = built_in_materials()[name]
    assert material.density_kg_per_m3 == pytest.approx(density, rel=AS_PRINTED)
    assert material.specific_heat_j_per_kg_k == pytest.approx(specific_heat, rel=AS_PRINTED)
    assert material.conductivity_w_per_m_k == pytest.approx(conductivity, rel=AS_PRINTED)
    assert material.through_conductivity_w_per_m_k == material.conductivity_w_per_m_k


def test_laminate_as_measured():
    """FR-4 without copper conducts 0.343 W/(m K) across and 1.059 in the plane (table).

    Sarvar, Poole, Witting, J. Electronic Materials 19 (1990) 1345-1350, abstract.
    """
    fr4, last_digit = built_in_materials()["fr4"], 0.0005
    assert fr4.through_conductivity_w_per_m_k == pytest.approx(0.343, abs=last_digit)
    assert fr4.conductivity_w_per_m_k == pytest.approx(1.059, abs=last_digit)


def test_laminate_of_another_table():
    """0.29 and 0.81 W/(m K), 1850 kg/m^3: property table at oem-pcb.com news 3641633 (table)."""
    fr4 = built_in_materials()["fr4"]
    assert fr4.density_kg_per_m3 == pytest.approx(1850.0, rel=AS_PRINTED)
    assert fr4.through_conductivity_w_per_m_k == pytest.approx(0.29, rel=SAMPLES_OF_LAMINATE)
    assert fr4.conductivity_w_per_m_k == pytest.approx(0.81, rel=SAMPLES_OF_LAMINATE)


def test_solder():
    """SAC305: 7380 kg/m^3 and 58 W/(m K), alasir.com/reference/solder_alloys (table)."""
    solder = built_in_materials()["sac305"]
    assert solder.density_kg_per_m3 == pytest.approx(7380.0, rel=AS_PRINTED)
    assert solder.conductivity_w_per_m_k == pytest.approx(58.0, rel=AS_PRINTED)
    recalled_range = (220.0, 240.0)  # of its specific heat, from memory
    assert recalled_range[0] <= solder.specific_heat_j_per_kg_k <= recalled_range[1]


def test_copper_of_another_table():
    """OFHC copper C101: 8940 kg/m^3 and 400 W/(m K), topline.tv/CCGA_Material.html (table)."""
    copper = built_in_materials()["copper"]
    assert copper.density_kg_per_m3 == pytest.approx(8940.0, rel=AS_PRINTED)
    assert copper.conductivity_w_per_m_k == pytest.approx(400.0, rel=SAMPLES_OF_COPPER)


def test_ceramics_of_other_grades():
    """Alumina of 93-95 % (makeitfrom.com, Type II, ASTM D2442): 3700, 900, 19; AlN 175 (table).

    The conductivity of aluminium nitride is that printed at edgepolishing.com.
    """
    alumina, nitride = (built_in_materials()[name] for name in ("alumina", "aluminium_nitride"))
    assert alumina.density_kg_per_m3 == pytest.approx(3700.0, rel=ALIKE)
    assert alumina.specific_heat_j_per_kg_k == pytest.approx(900.0, rel=ALIKE)
    assert alumina.conductivity_w_per_m_k == pytest.approx(19.0, rel=GRADES_OF_ALUMINA)
    assert nitride.conductivity_w_per_m_k == pytest.approx(175.0, rel=SAMPLES_OF_NITRIDE)


def test_paste_lies_within_its_range():
    """Paste that insulates conducts 1 to 4 W/(m K): arctic.de thermal interface page (table)."""
    assert 1.0 <= built_in_materials()["thermal_paste"].conductivity_w_per_m_k <= 4.0


def test_aluminium_6061_as_fitted_to_samples():
    """155.3 W/(m K) and 954 J/(kg K) at 300 K from log-polynomial fits (computed).

    NIST cryogenic material properties, 6061-T6 page: the coefficients as printed there, with
    stated fit errors of 0.5 % and 5 %; log10 y = sum of a_i (log10 T)^i.
    """
    conductivity = [0.07918, 1.0957, -0.07277, 0.08084, 0.02803, -0.09464, 0.04179, -0.00571]
    decades = math.log10(300.0)
    fitted = 10 ** sum(a * decades**i for i, a in enumerate(conductivity))
    assert fitted == pytest.approx(155.3, abs=0.05)
    aluminium = built_in_materials()["aluminium_6061"]
    assert aluminium.conductivity_w_per_m_k == pytest.approx(fitted, rel=SAMPLES_OF_ALUMINIUM)
    assert aluminium.specific_heat_j_per_kg_k == pytest.approx(954.0, rel=SAMPLES_OF_ALUMINIUM)


def test_area_resistance_of_a_printed_dielectric():
    """38 um with 0.02 degC in2/W, printed as 0.13 degC cm2/W too, conduct 2.9 W/(m K).

    Bergquist Thermal Clad HPL-03015 technical data, fdocuments.net copy (table); the conductivity
    of the film alone is computed from the two.
    """
    area_resistance = convert("0.02 degC*in^2/W", "m^2*K/W")
    assert area_resistance == pytest.approx(0.13e-4, abs=0.005e-4)
    as_resistance = Interface(to="sink", area_resistance_m2_k_per_w="0.02 degC*in^2/W")
    assert as_resistance.area_resistance_m2_k_per_w == area_resistance
    assert 38e-6 / area_resistance == pytest.approx(2.9, abs=0.05)
