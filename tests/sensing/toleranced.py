"""Invented sensors with tolerances, for the tests of the error budget."""

from derate.lamp.tolerance import Tolerance
from tests.sensing.invented import ROUGH, sensor

ORDINARY = {
    "resistor": 0.01, "resistor_drift_per_k": 1e-4, "r25": 0.03, "b_value": 0.01, "supply": 0.02,
    "reference": 0.01, "dissipation": 0.3,
}  # fmt: skip
"""Tolerances such as cheap parts have; invented."""
DISTURBED = {"ground_v_per_a": 0.001, "supply_v_per_a": 0.005}


def toleranced(arrangement="pull-up", *, tolerance=None, adc=None, **keys):
    """A sensor of ``invented`` with tolerances, by default the ordinary ones."""
    made = sensor(arrangement, adc=ROUGH if adc is None else adc, **keys)
    parts = Tolerance(**(ORDINARY if tolerance is None else tolerance))
    return made.model_copy(update={"tolerance": parts})


def exact(arrangement="pull-up", *, tolerance=None, adc=None, **keys):
    """A sensor without any error but those given."""
    return toleranced(arrangement, tolerance=tolerance or {}, adc=adc or {}, **keys)


def named(budget, name):
    """The contribution of that name."""
    (found,) = [one for one in budget.contributions if one.name == name]
    return found
