"""The whole of the fault matrix: it can be stopped."""

import pytest

from derate.limits import early
from derate.limits.fault_matrix import study_faults
from tests.limits.switched import lamp


def test_it_ends_when_it_is_to_stop(monkeypatch):
    """After the part in hand, by the interrupt that asked for it."""
    monkeypatch.setattr(early, "UNITS", 3)
    told = []
    with pytest.raises(KeyboardInterrupt):
        study_faults(lamp(), workers=1, doing=told.append, stop=lambda: True)
    assert told == ["making missions"]
