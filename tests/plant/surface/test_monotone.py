"""What must hold for any surface: more of what sheds heat sheds more heat."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plant.surface.invented import (
    KINDS,
    MOVED,
    airflows,
    ambients_c,
    body,
    kinds,
    rises_k,
)

ROUNDING = 1e-12
"""Relative."""
THINNER = 0.05
"""Relative: warm air is thinner and drives itself less."""
FELT = 0.01
"""A fainter airflow [-] may change the heat by less than rounding."""
RADIATING = tuple(n for n, part in KINDS.items() if part.get("emissivity") is not None)


def heat_w(one, rise_k, ambient_c, airflow):
    """Heat by the formulas themselves [W]."""
    return float(one.heat_w(np.array(ambient_c + rise_k), np.array(ambient_c), np.array(airflow)))


@given(kinds, ambients_c, airflows)
def test_no_heat_at_equal_temperatures(kind, ambient_c, airflow):
    """A surface as warm as its ambient sheds nothing."""
    assert heat_w(body(KINDS[kind]), 0.0, ambient_c, airflow) == 0.0


@given(kinds, rises_k, ambients_c, airflows, st.floats(1.001, 2.0))
@settings(max_examples=300)
def test_hotter_sheds_more(kind, rise_k, ambient_c, airflow, factor):
    """Heat rises with the rise; a colder surface takes up heat."""
    one = body(KINDS[kind])
    heat = heat_w(one, rise_k, ambient_c, airflow)
    assert heat_w(one, min(factor * rise_k, 250.0), ambient_c, airflow) > heat > 0.0
    assert heat_w(one, -rise_k, ambient_c, airflow) < 0.0


@given(st.sampled_from(MOVED), rises_k, ambients_c, airflows, st.floats(1.05, 4.0))
@settings(max_examples=200)
def test_more_airflow_sheds_more(kind, rise_k, ambient_c, airflow, factor):
    """Heat rises with the airflow, from none on."""
    one = body(KINDS[kind])
    less, more = (heat_w(one, rise_k, ambient_c, a) for a in (airflow, airflow * factor))
    assert more > less if airflow > FELT else more >= less * (1.0 - ROUNDING)
    assert less >= heat_w(one, rise_k, ambient_c, 0.0)


@pytest.mark.parametrize("kind", sorted(set(KINDS) - set(MOVED)))
def test_airflow_is_felt_only_where_it_is_given(kind):
    """A surface without speed or fan does not ask for the airflow."""
    one = body(KINDS[kind])
    assert not one.moved
    assert heat_w(one, 30.0, 25.0, 0.0) == heat_w(one, 30.0, 25.0, 7.0)


@given(st.sampled_from(RADIATING), rises_k, ambients_c, airflows, st.floats(0.0, 0.9))
@settings(max_examples=200)
def test_more_emissivity_sheds_more(kind, rise_k, ambient_c, airflow, emissivity):
    """A blacker surface sheds more, between fins and of poor conductors too."""
    less, more = (
        heat_w(body(KINDS[kind], emissivity=e), rise_k, ambient_c, airflow)
        for e in (emissivity, emissivity + 0.1)
    )
    assert more > less


GROWING = (
    ("plate", "size_m", 0),
    ("plate", "size_m", 1),
    ("plate up", "size_m", 0),
    ("plate in wind", "size_m", 0),
    ("plate in water", "size_m", 1),
    ("box", "size_m", 0),
    ("box", "size_m", 2),
    ("box in wind", "size_m", 1),
    ("fins", "size_m", 0),
    ("fins", "size_m", 1),
    ("fins in wind", "size_m", 0),
    ("fins", "fin_height_m", None),
    ("fins in a stream", "fin_height_m", None),
)
"""Lengths that give more area to shed from (more width gives fins more gap as well; taller
fins of a poor conductor only shade the floor)."""


@given(st.sampled_from(GROWING), rises_k, ambients_c, airflows, st.floats(1.01, 3.0))
@settings(max_examples=200)
def test_more_area_sheds_more(what, rise_k, ambient_c, airflow, factor):
    """A larger surface sheds more, although less on each square metre."""
    kind, key, axis = what
    part = KINDS[kind]
    grown = part[key] * factor if axis is None else list(part[key])
    if axis is not None:
        grown[axis] *= factor
    less = heat_w(body(part), rise_k, ambient_c, airflow)
    more = heat_w(body(part, **{key: grown}), rise_k, ambient_c, airflow)
    assert more > less


def test_the_second_face_of_a_plate_looks_the_other_way():
    """Both faces of a lying plate shed as one up and one down, of an upright one twice as one."""
    one, two = (
        {f: heat_w(body(KINDS["plate"], facing=f, faces=n), 40.0, 25.0, 1.0) for f in LOOKS}
        for n in (1, 2)
    )
    assert two["side"] == pytest.approx(2.0 * one["side"], rel=ROUNDING)
    assert two["up"] == pytest.approx(one["up"] + one["down"], rel=ROUNDING)
    assert two["down"] == pytest.approx(two["up"], rel=ROUNDING)


LOOKS = ("side", "up", "down")


def test_up_sheds_more_than_down():
    """A plate or a bank of fins that looks up sheds more than one that looks down."""
    for kind in ("plate", "fins"):
        up, down = (heat_w(body(KINDS[kind], facing=f), 40.0, 25.0, 1.0) for f in LOOKS[1:])
        assert up > down


def test_a_sink_is_better_hot():
    """In natural convection and without radiation the resistance falls as rise^-0.25, about.

    Common practice: a sink at 20 K has 1.32 times its resistance at 60 K.
    """
    dark = body(KINDS["plate up"], emissivity=0.0)
    warm, hot = (heat_w(dark, rise, 25.0, 1.0) / rise for rise in (20.0, 60.0))
    assert hot / warm == pytest.approx(1.32, rel=THINNER)
    given_one = body(KINDS["given"])
    warm, hot = (heat_w(given_one, rise, 25.0, 1.0) / rise for rise in (20.0, 60.0))
    assert hot / warm == pytest.approx(3.0**0.25, rel=ROUNDING)
    assert heat_w(given_one, 50.0, 25.0, 1.0) == pytest.approx(12.5, rel=ROUNDING)
