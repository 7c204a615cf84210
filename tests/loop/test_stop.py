"""A run that is asked to stop ends at the next control period, and so does the search for a cause.

A KeyboardInterrupt raised by the interpreter may fall into a compiled library's callback, where it
is printed and lost; asking between two control periods cannot be missed.
"""

import pytest

from derate.lamp.lamp import Lamp
from derate.loop.run import run
from tests.loop.lamps import spot
from tests.loop.test_hunting import steps


def test_a_run_ends_at_the_next_control_period():
    """The third time it is asked is the last."""
    asked = []

    def third():
        asked.append(None)
        return len(asked) == 3

    with pytest.raises(KeyboardInterrupt):
        run(Lamp.model_validate(spot()), stop=third)
    assert len(asked) == 3


def test_the_search_for_a_cause_ends_too():
    """Once it is told that a cause is looked for, stopping still takes effect."""
    told = []
    with pytest.raises(KeyboardInterrupt):
        run(Lamp.model_validate(steps(1.0)), tell=told.append, stop=lambda: bool(told))
    assert len(told) == 1
