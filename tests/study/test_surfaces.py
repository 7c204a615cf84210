"""Surfaces at rest: their parts, coefficients, fins and fan against formulas and balances."""

import numpy as np
import pytest

from derate.plant.surface.fluid import AIR
from derate.study.passage import of_surfaces
from derate.study.surfaces import surface_points
from tests.study.lamps import DRAWN, demo, operating, shedding

EXACT = 1e-9
"""Relative: sums and quotients in another order."""
TABLES = 0.005
"""Relative: the tables of the exchange against the formulas."""
CROSSING = 1e-6
"""Relative: pressures at a crossing that Newton's method finds to rounding."""
FAN = {"surfaces.fins.fan": {"flow": "12 m^3/h", "pressure": "25 Pa"}}


def points_of(lamp, airflow=1.0):
    """Surfaces of a lamp at full drive in 25 degC, by name, and what its heat paths say."""
    ready = operating(lamp, airflow)
    rest = ready.at(1.0, 25.0)
    ways = {way.what: way for way in of_surfaces(ready, rest)}
    return {one.name: one for one in surface_points(ready, rest)}, ways


@pytest.mark.parametrize("lamp", [shedding(), shedding().with_changes(FAN), demo(DRAWN)])
def test_heat_is_area_times_coefficients_times_rise(lamp):
    """Both parts sum to the heat of the heat paths, and each is area x coefficient x rise."""
    found, ways = points_of(lamp)
    assert list(found) == list(ways)
    known = [one for one in found.values() if np.isfinite(one.area_m2)]
    assert known
    for one in known:
        rise_k = one.temperature_c - one.partner_c
        assert one.heat_w == ways[one.name].heat_w
        assert one.convection_w + one.radiation_w == pytest.approx(one.heat_w, rel=EXACT)
        both = one.convection_w_per_m2_k + one.radiation_w_per_m2_k
        assert both * one.area_m2 * rise_k == pytest.approx(one.heat_w, rel=EXACT)
        assert one.convection_w > 0.0 < one.radiation_w


def test_a_black_lid_radiates_by_the_law():
    """A plate of 0.9 sheds 0.9 sigma A (T^4 - T0^4) by radiation."""
    lid = points_of(shedding())[0]["surface lid"]
    hot_k, cold_k = lid.temperature_c + 273.15, lid.partner_c + 273.15
    assert lid.area_m2 == pytest.approx(0.06 * 0.05)
    expected_w = 0.9 * 5.670374419e-8 * lid.area_m2 * (hot_k**4 - cold_k**4)
    assert lid.radiation_w == pytest.approx(expected_w, rel=TABLES)


def test_a_known_surface_tells_its_heat_alone():
    """Of a given resistance no area, coefficient or part is known."""
    bracket = points_of(shedding())[0]["surface bracket"]
    assert bracket.heat_w > 0.0
    unknown = (bracket.area_m2, bracket.convection_w, bracket.radiation_w_per_m2_k)
    assert np.isnan(unknown).all()


def test_the_fan_works_where_both_curves_meet():
    """Both curves give the pressure of the crossing there; air warms by its heat over its flow."""
    fins = points_of(shedding().with_changes(FAN))[0]["surface fins"]
    fan = fins.fan
    for curve_pa in (fan.fan_pa, fan.channels_pa):
        met_pa = np.interp(fan.at_m3_per_s, fan.flow_m3_per_s, curve_pa)
        assert met_pa == pytest.approx(fan.at_pa, rel=TABLES)
    left_pa = 25.0 * (1.0 - fan.at_m3_per_s / fan.flow_m3_per_s[-1])
    assert fan.at_pa == pytest.approx(left_pa, rel=CROSSING)
    film = AIR.at(0.5 * (fins.temperature_c + fins.partner_c))
    capacity = 1006.0 * float(film.density_kg_per_m3)
    expected_k = fins.convection_w / (capacity * fan.at_m3_per_s)
    assert fins.air_rise_k == pytest.approx(expected_k, rel=TABLES)
    assert 0.5 < fins.fin_efficiency < 1.0
    assert fins.film_w_per_m2_k > fins.convection_w_per_m2_k > 0.0


def test_a_fan_that_stands_has_no_working_point():
    """Without airflow the fins shed as in still air."""
    fins = points_of(shedding().with_changes(FAN), 0.0)[0]["surface fins"]
    still = points_of(shedding(), 0.0)[0]["surface fins"]
    assert fins.fan is None
    assert np.isnan(fins.air_rise_k)
    assert fins.heat_w == pytest.approx(still.heat_w, rel=TABLES)
