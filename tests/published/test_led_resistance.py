"""The two thermal resistances of an emitter, with and without the light that leaves, at a point.

JESD51-51, by its title and by the rule stated in words in the abstract of "When designing with
power LEDs, consider their real thermal resistance" (techonline.com, opened): the heating power is
electrical power less emitted optical power, and leaving the light out understates the resistance by
the factor 1 - light / (I V). The formula was written for this check; no source prints a figure.
"""

import pytest

from derate.study.point import study_point
from tests.study.lamps import SPOT, made

CURRENT_A, VOLTS, LIGHT_W = 1.0, 3.1, 1.1
"""The test spot's own (invented) figures at its reference temperature."""
STATED_K_PER_W = 1e-3
"""So small that the junction stays at the reference temperature of 25 degC."""
COOLED = [{"between": ["board", "sink"], "resistance": 1e-4},
          {"between": ["sink", "ambient"], "resistance": 1e-4}]  # fmt: skip
NEAR = 1e-4
"""Relative: the junction is a few hundredths of a kelvin above its reference temperature."""


def at_reference(convention):
    """The channel of a spot whose resistance is stated by ``convention`` at its own current."""
    emitter = SPOT["emitters"]["white"] | {
        "junction_to_solder_resistance": STATED_K_PER_W,
        "resistance_convention": convention,
        "resistance_current": CURRENT_A,
    }
    return study_point(made(emitters={"white": emitter}, links=COOLED)).channels[0]


def test_stated_by_heat():
    """A real resistance is what it is; by electrical power it is less, by the share of light."""
    point = at_reference("real")
    assert point.junction_to_solder_k_per_w == pytest.approx(STATED_K_PER_W)
    share = 1.0 - LIGHT_W / (CURRENT_A * VOLTS)
    understated = point.junction_to_solder_electrical_k_per_w
    assert understated == pytest.approx(STATED_K_PER_W * share, rel=NEAR)


def test_stated_by_electrical_power():
    """An electrical resistance comes out as stated, the real one larger by the same share."""
    point = at_reference("electrical")
    assert point.junction_to_solder_electrical_k_per_w == pytest.approx(STATED_K_PER_W, rel=NEAR)
    share = 1.0 - LIGHT_W / (CURRENT_A * VOLTS)
    assert point.junction_to_solder_k_per_w == pytest.approx(STATED_K_PER_W / share, rel=NEAR)
    drop_k = point.junction_c - point.solder_c
    each_w = CURRENT_A * VOLTS
    assert drop_k == pytest.approx(STATED_K_PER_W * each_w, rel=NEAR)
