"""Limits of places that are no junctions."""

import pytest
from pydantic import ValidationError

from derate.lamp import Lamp
from derate.lamp.limit import limit_words, limited_places
from tests.loop.lamps import SPOT, spot


def test_places_with_limits_are_listed():
    """A node, and the solder points of a channel, each by name, nodes and key; no others."""
    channel = SPOT["channels"]["spot"] | {"solder_limit": "90 degC"}
    nodes = SPOT["nodes"] | {"sink": {"capacitance": 40.0, "limit": "70 degC"}}
    lamp = Lamp.model_validate(spot(channels={"spot": channel}, nodes=nodes))
    assert limited_places(lamp) == (
        ("sink", ("sink",), 70.0, ("nodes", "sink", "limit")),
        ("solder.spot", ("board",), 90.0, ("channels", "spot", "solder_limit")),
    )
    assert [limit_words(one.name) for one in limited_places(lamp)] == [
        "sink",
        "solder point of spot",
    ]
    assert limited_places(Lamp.model_validate(spot())) == ()


def test_a_limit_below_every_ambient_is_refused():
    """Solder points of at most 20 degC can't be had where it is never below 25 degC."""
    channel = SPOT["channels"]["spot"] | {"solder_limit": "20 degC"}
    with pytest.raises(ValidationError, match="more than the lowest ambient of any profile, 25"):
        Lamp.model_validate(spot(channels={"spot": channel}))
