"""A network whose small conductances drown in rounding is refused."""

import numpy as np
import pytest

from derate.errors import InputError
from derate.plant.network import assemble
from tests.control.small_lamp import small_lamp

STIFF = 1e-15
"""Factor on the resistance to ambient beside which the sensor's conductance is lost."""
ROUNDING_W_PER_K = 1e-12
"""Sums of a few conductances of about 1 W/K."""


def test_conductances_balance():
    """Each row of G sums to the node's conductance to ambients: no heat appears or vanishes."""
    network = assemble(small_lamp())
    np.testing.assert_allclose(
        network.conductance_w_per_k.sum(axis=1),
        network.ambient_w_per_k.sum(axis=1),
        atol=ROUNDING_W_PER_K,
    )


def test_resistances_too_far_apart_are_refused():
    """An event that leaves 1e-15 of a resistance is told, not computed wrongly.

    Cause: beside a conductance of 1e15 W/K the way to the ambient was lost to rounding.
    """
    raw = small_lamp().model_dump(mode="json", by_alias=True, exclude_unset=True)
    raw["nodes"]["sink"] = {"capacitance": "20 J/K"}
    raw["links"] = [
        {"between": ["board", "sink"], "resistance": "1 K/W", "name": "paste"},
        {"between": ["sink", "ambient"], "resistance": "8 K/W"},
    ]
    lamp = type(small_lamp()).model_validate(raw)
    assemble(lamp, degraded={"paste": 1e-3})
    with pytest.raises(InputError, match="links: found resistances too far apart"):
        assemble(lamp, degraded={"paste": STIFF})
