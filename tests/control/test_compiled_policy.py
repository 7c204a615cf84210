"""Policies in Python compiled: the very same steps as in the interpreter, or a sentence why not."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.control.body import PythonBody
from derate.control.command import CUTOFF, FAULT, POLICY, RAMP
from derate.control.compiled_policy import NotCompiledError, compiled_policy, not_compiled_because
from derate.errors import InputError
from derate.loop.controllers import LIMIT_SHIFT, STEP, Compiled
from derate.sensing.chain import chains_of
from tests.control.own_policies import COMPILED, INTERPRETED
from tests.control.small_lamp import FOLDBACK_WITH_HYSTERESIS, OPEN_LOOP, PI, STEPS, small_lamp
from tests.firmware.reach import walk

WALKED = 400


def own(name, start="50 degC", **controller):
    """A lamp with a policy of the tests' own."""
    kind = f"tests.control.own_policies:{name}"
    return small_lamp({"kind": kind, "start": start}, body="python", **controller)


class Twins:
    """The controller of a lamp in the interpreter and compiled, side by side."""

    def __init__(self, lamp):
        chains = chains_of(lamp)
        self.body, self.controllers = PythonBody(lamp, chains), Compiled(lamp, chains)
        self.settings, self.memory = self.controllers.begun(lamp)
        self.channels = len(lamp.channels)
        self.step = STEP(self.controllers.step)

    def interpreted(self, codes, requests):
        """Duties of one step in the interpreter, limit and status as the C returns them."""
        given_out = self.body.step(codes, requests)
        return *given_out.duties_q15, given_out.limit_q15 << LIMIT_SHIFT | given_out.status

    def compiled(self, codes, requests):
        """The same of the same step, compiled."""
        duties = np.zeros(self.channels, np.uint16)
        asked = [np.array(words, np.uint16) for words in (codes, requests)]
        addresses = [array.ctypes.data for array in (self.memory, *asked, duties)]
        answer = self.step(self.settings, *addresses)
        return *duties.tolist(), answer


@settings(max_examples=10, deadline=None)
@given(
    st.sampled_from([*COMPILED, STEPS, PI, OPEN_LOOP, FOLDBACK_WITH_HYSTERESIS]),
    st.sampled_from([1, 2]),
    st.integers(0, 9),
    st.fixed_dictionaries(
        {"cutoff": st.sampled_from(["90 degC", "124 degC"])},
        optional={
            "filter_shift": st.integers(1, 8),
            "max_jump": st.just("8 K"),
            "disagreement": st.just("5 K"),
            "attack": st.just("0.7 1/s"),
            "release": st.just("0.11 1/s"),
            "hold": st.just("0.3 s"),
            "latch": st.booleans(),
            "sharing": st.just({"way": "hottest first"}),
            "stuck": st.just(
                {"drive": 0.4, "off": "2 s", "within": "6 s", "rise": "3 K", "below": "40 degC"}
            ),
        },
    ),
)
def test_compiled_and_interpreted_are_the_same(policy, sensors, seed, controller):
    """Every duty, limit and flag is the same, whatever policy, sensors, checks and codes."""
    if sensors == 1:
        controller.pop("disagreement", None)
    if isinstance(policy, str):
        lamp = own(policy, sensors=sensors, **controller)
    else:
        lamp = small_lamp(policy, body="python", sensors=sensors, **controller)
    twins = Twins(lamp)
    for codes, requests in walk(seed, WALKED, sensors, calm=bool(seed % 2)):
        assert twins.interpreted(codes, requests[:2]) == twins.compiled(codes, requests[:2])


def test_the_walk_meets_what_it_should():
    """Limits, faults, ramp and cut-off are met, and left again, by compiled steps."""
    twins = Twins(own("Widened", max_jump="8 K", release="0.11 1/s", cutoff="70 degC"))
    samples = walk(1, 50 * WALKED, 1)
    seen = [twins.compiled(codes, requests[:2])[-1] for codes, requests in samples]
    for flag in (POLICY, FAULT, CUTOFF, RAMP):
        assert WALKED < sum(1 for answer in seen if answer & flag) < 49 * WALKED


@pytest.mark.parametrize("name", INTERPRETED)
def test_what_cannot_be_compiled_is_told(name):
    """One sentence says what was found and what is due; nothing is compiled into other numbers."""
    reason = not_compiled_because(own(name))
    assert reason is not None
    assert "\n" not in reason
    assert f'own_policies:{name}" is not compiled (' in reason
    with pytest.raises(NotCompiledError, match=INTERPRETED[name]):
        compiled_policy(own(name))


def test_a_policy_that_predicts_is_interpreted():
    """Its requests and duties are whole numbers without bounds in Python."""
    lamp = small_lamp({"kind": "predictive", "band": "8 K", "guard": "30 K"}, body="python")
    assert "more than a function of state, reading and period" in not_compiled_because(lamp)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Halts", r"whose limit fails \(ValueError: beyond what was thought of\)"),
        ("Grows", r"whose limit at .* degC returned .*1\.00.*due a method limit"),
    ],
)
def test_what_fails_while_it_runs_is_told_as_by_the_interpreter(name, words):
    """The sentence is the interpreter's own, of the very state; and nothing is driven any more."""
    twins = Twins(own(name, cutoff="124 degC"))
    for step in range(700):
        sample = [twins.body.chains[0].ideal_code(30.0 + step / 20.0)], [9000, 20000]
        compiled = twins.compiled(*sample)
        try:
            assert twins.interpreted(*sample) == compiled
        except InputError as error:
            sentence = str(error)
            break
    assert compiled == twins.compiled(*sample) == (0, 0, 0)
    with pytest.raises(InputError, match=words) as told:
        twins.controllers.check()
    assert str(told.value) == sentence


def test_settings_are_data():
    """Other settings of a class need no other compiled form."""
    one, other = compiled_policy(own("Methods")), compiled_policy(own("Methods", "60 degC"))
    assert one.entry is other.entry
    assert not np.array_equal(one.settings, other.settings)
