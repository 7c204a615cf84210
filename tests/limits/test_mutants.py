"""Every wrong of the firmware is found by the search, the classic three by sequences as well."""

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from derate.limits import PromiseBrokenError, never_exceeds, safe_on_sensor_fault, sequences
from tests.limits.mutated import CLASSIC, OPEN, POLICY, mutated

LIMIT_C = 66.0
"""The right firmware stays 1.7 K below it in the worst history known."""
MARGIN_K = 1.0
DEFAULT = settings(
    max_examples=100,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate],
)
"""The effort that a test of one's own has by default; nothing is made simpler, which takes long."""
ALL = POLICY | CLASSIC


def test_the_right_firmware_holds(tmp_path):
    """A copy of our C without a wrong passes all that finds the mutants, with a kelvin to spare."""
    lamp = mutated(tmp_path, None, limit_c=LIMIT_C)
    never_exceeds(lamp, guard_k=MARGIN_K, faults=OPEN)
    safe_on_sensor_fault(lamp)
    run_state_machine_as_test(sequences(lamp), settings=settings(DEFAULT, max_examples=30))


@pytest.mark.parametrize("name", ALL)
def test_a_mutant_is_caught(name, tmp_path):
    """The search finds a history that passes the limit, with its default effort."""
    lamp = mutated(tmp_path, ALL[name], limit_c=LIMIT_C)
    with pytest.raises(PromiseBrokenError, match=r"junction of spot .* K above its limit"):
        never_exceeds(lamp, faults=ALL[name].faults)
    if name in CLASSIC:
        with pytest.raises(PromiseBrokenError, match="sensor open"):
            safe_on_sensor_fault(lamp)
        with pytest.raises(PromiseBrokenError, match="is driven; safe is 10 %"):
            run_state_machine_as_test(sequences(lamp), settings=DEFAULT)
