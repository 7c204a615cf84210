"""The tables and the kernel that reads them, against the formulas themselves."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from derate.plant.surface.bodies import bodies_of
from derate.plant.surface.exchange import AMBIENT_C, exchange_of, heat_out_w
from derate.plant.surface.flat import area_m2
from tests.plant.surface.invented import KINDS, airflows, body, with_surfaces

TABLE = 2e-3
"""Relative error of the heat from tables: rises from 1 K, any airflow from 0.1, water from 12."""
FAINT = 5e-3
"""The same down to rises of 0.1 K and airflows of 0.001 in air."""
COLD_WATER = 0.03
"""The same where the film of water is near 6 degC, from where on its expansion counts."""
ROUNDING = 1e-9
"""Relative."""

NAMES = tuple(KINDS)
LAMP = with_surfaces(**KINDS)
BODIES = bodies_of(LAMP)
EXCHANGE = exchange_of(LAMP, {"board": 0, "sink": 1})

which = st.integers(0, len(NAMES) - 1)
IN_AIR = [s for s, one in enumerate(BODIES) if one.fluid.name == "air"]
IN_WATER = [s for s, one in enumerate(BODIES) if one.fluid.name == "water"]
roots = st.floats(0.1**0.25, 240.0**0.25)
"""Fourth roots of rises, evenly as in the tables."""


def table_w(s, rise_k, ambient_c, airflow):
    """Heat of one surface by the kernel [W]."""
    return heat_out_w(EXCHANGE, s, ambient_c + rise_k, ambient_c, airflow)


def formula_w(s, rise_k, ambient_c, airflow):
    """Heat of one surface by the formulas [W]."""
    one = (np.array(x) for x in (ambient_c + rise_k, ambient_c, airflow))
    return float(BODIES[s].heat_w(*one))


@given(
    st.sampled_from(IN_AIR),
    st.floats(1.0, 240.0**0.25),
    st.floats(-40.0, 100.0),
    st.one_of(st.just(0.0), st.floats(0.1, 16.0)),
)
@settings(max_examples=600)
def test_tables_follow_the_formulas_in_air(s, root, ambient_c, airflow):
    """From the tables comes the heat of the formulas to 0.2 %."""
    found, known = (how(s, root**4, ambient_c, airflow) for how in (table_w, formula_w))
    assert found == pytest.approx(known, rel=TABLE)


@given(st.sampled_from(IN_AIR), roots, st.floats(-40.0, 100.0), st.floats(1e-3, 16.0))
@settings(max_examples=600)
def test_tables_follow_the_formulas_where_there_is_little_heat(s, root, ambient_c, airflow):
    """At small rises and faint airflow too, to 0.5 %."""
    found, known = (how(s, root**4, ambient_c, airflow) for how in (table_w, formula_w))
    assert found == pytest.approx(known, rel=FAINT)


@given(
    st.sampled_from(IN_WATER),
    st.floats(1.0, 40.0**0.25),
    st.floats(2.0, 42.0),
    st.one_of(st.just(0.0), st.floats(0.1, 16.0)),
)
@settings(max_examples=400)
def test_tables_follow_the_formulas_in_water(s, root, ambient_c, airflow):
    """In water to 0.2 %, to 3 % where it is so cold that it hardly expands."""
    found, known = (how(s, root**4, ambient_c, airflow) for how in (table_w, formula_w))
    assert found == pytest.approx(known, rel=TABLE if ambient_c > 12.0 else COLD_WATER)


@given(which, st.floats(-60.0, 120.0), airflows)
def test_no_heat_at_equal_temperatures(s, ambient_c, airflow):
    """The kernel gives exactly nothing there."""
    assert heat_out_w(EXCHANGE, s, ambient_c, ambient_c, airflow) == 0.0


@given(
    which,
    st.floats(-100.0, 1000.0),
    st.floats(1e-3, 100.0),
    st.floats(-60.0, 150.0),
    st.one_of(st.just(0.0), st.floats(0.0, 50.0)),
)
@settings(max_examples=600)
def test_hotter_sheds_more_everywhere(s, rise_k, step_k, ambient_c, airflow):
    """Heat rises with the surface's temperature inside the tables and far outside."""
    assume(ambient_c + rise_k > -200.0)
    less, more = (table_w(s, r, ambient_c, airflow) for r in (rise_k, rise_k + step_k))
    assert more > less


@given(which, st.floats(0.01, 1000.0), st.floats(-60.0, 150.0), st.floats(0.0, 50.0))
@settings(max_examples=300)
def test_more_airflow_never_sheds_less(s, rise_k, ambient_c, airflow):
    """Nor beyond the tables; a surface without speed or fan does not feel it."""
    less, more = (table_w(s, rise_k, ambient_c, a) for a in (airflow, 1.1 * airflow))
    assert more >= less * (1.0 - ROUNDING)
    if not BODIES[s].moved:
        assert more == less


@given(which, st.floats(-100.0, 400.0), st.floats(-50.0, 110.0), st.floats(0.0, 20.0))
@settings(max_examples=300)
def test_the_kernel_does_not_jump(s, rise_k, ambient_c, airflow):
    """A step of 1e-7 in any input moves the heat by a like share of what there is."""
    heat = table_w(s, rise_k, ambient_c, airflow)
    slack = 1e-4 * (abs(table_w(s, abs(rise_k) + 1.0, ambient_c, airflow)) + abs(heat))
    for near in (
        table_w(s, rise_k + 1e-7, ambient_c, airflow),
        heat_out_w(EXCHANGE, s, ambient_c + rise_k, ambient_c + 1e-7, airflow),
        table_w(s, rise_k, ambient_c, airflow * (1.0 + 1e-7)),
    ):
        assert abs(near - heat) < slack


def test_the_reference_is_the_heat_at_30_kelvin():
    """What stands in the linear network: heat over rise at 55 degC over 25, airflow 1."""
    for s in range(len(NAMES)):
        table = table_w(s, 30.0, 25.0, 1.0)
        assert EXCHANGE.reference_w_per_k[s] * 30.0 == pytest.approx(table, rel=TABLE)


def test_a_given_resistance_is_met_exactly():
    """A given surface is straight in its table's coordinate, whatever its exponent."""
    for exponent in (0.0, 1e-3, 0.1, 0.25, 0.33, 0.9):
        lamp = with_surfaces(one=KINDS["given"] | {"exponent": exponent})
        exchange = exchange_of(lamp, {"sink": 0})
        for rise in (0.01, 3.0, 50.0, 200.0):
            found = heat_out_w(exchange, 0, 20.0 + rise, 20.0, 1.0)
            known = rise / 4.0 * (rise / 50.0) ** exponent
            assert found == pytest.approx(known, rel=ROUNDING)


def test_a_factor_is_on_all_heat():
    """A unit that sheds 7 % more does so by convection, radiation and airflow alike."""
    lamp = with_surfaces(**{name: part | {"heat_factor": 1.07} for name, part in KINDS.items()})
    more = exchange_of(lamp, {"board": 0, "sink": 1})
    for s in range(len(NAMES)):
        for rise_k, ambient_c, airflow in ((1.0, 5.0, 0.0), (-3.0, 25.0, 1.0), (60.0, 30.0, 4.0)):
            found = heat_out_w(more, s, ambient_c + rise_k, ambient_c, airflow)
            known = 1.07 * table_w(s, rise_k, ambient_c, airflow)
            assert found == pytest.approx(known, rel=ROUNDING)
            temperatures = (np.array(x) for x in (ambient_c + rise_k, ambient_c, airflow))
            formula = float(bodies_of(lamp)[s].heat_w(*temperatures))
            assert formula == pytest.approx(1.07 * formula_w(s, rise_k, ambient_c, airflow))


def test_tables_end_where_they_say():
    """Beyond the coldest and the hottest ambient convection keeps its value, radiation goes on."""
    low_c, high_c = AMBIENT_C["air"]
    shiny = exchange_of(with_surfaces(one=KINDS["plate in wind"] | {"emissivity": 0.0}), NODES)
    for inside, outside in ((low_c, low_c - 30.0), (high_c, high_c + 30.0)):
        near, far = (heat_out_w(shiny, 0, a + 40.0, a, 1.0) for a in (inside, outside))
        assert far == pytest.approx(near, rel=ROUNDING)
    s = NAMES.index("plate")
    assert table_w(s, 40.0, high_c + 30.0, 1.0) > table_w(s, 40.0, high_c, 1.0)


NODES = {"board": 0, "sink": 1}


def test_a_lamp_without_surfaces_has_empty_tables():
    """Nothing sheds; the arrays keep their dimensions for the compiled kernel."""
    exchange = exchange_of(with_surfaces(), NODES)
    assert len(exchange.node) == 0
    assert exchange.natural_w_per_k.ndim == 3
    assert exchange.forced_w_per_k.ndim == 4


def test_radiation_is_exact_in_the_kernel():
    """Emissivity adds sigma A eps (T^4 - T_a^4), to rounding, at any rise of a plate."""
    plates = (KINDS["plate"] | {"emissivity": e} for e in (0.9, 0.0))
    painted, shiny = (exchange_of(with_surfaces(one=part), NODES) for part in plates)
    area = area_m2(body(KINDS["plate"]).shape)
    for surface_c in (-10.0, 21.0, 80.0, 600.0):
        found = heat_out_w(painted, 0, surface_c, 20.0, 1.0)
        found -= heat_out_w(shiny, 0, surface_c, 20.0, 1.0)
        known = 5.670374419e-8 * 0.9 * area * ((surface_c + 273.15) ** 4 - 293.15**4)
        assert found == pytest.approx(known, rel=ROUNDING)
