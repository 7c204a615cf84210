"""Commands, faults, resets and ambients in any order: a state machine for tests of one's own.

    from derate.limits import sequences

    TestMyFirmware = sequences(derate.load("my_lamp.toml")).TestCase

hypothesis then drives the controller of the lamp, whichever body it has, and tells the shortest
order of events that breaks what its settings promise.
"""

import math
from typing import Any, ClassVar

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from derate.lamp.lamp import Lamp
from derate.limits.broken import PromiseBrokenError
from derate.limits.rig import PATIENCE, Rig, request_q15
from derate.loop.body import Body

LEVELS = (1.0, 0.0, 0.5, 0.07)
WAITS = (1, 3, 12, 60)
"""Control periods: the next one, a few, some, until it is warm."""
COLDEST_C, HOTTEST_C = -20.0, 70.0


class Sequences(RuleBasedStateMachine):
    """Events in any order; after each, and at every control period, the promises are looked at."""

    rig: ClassVar[Rig]
    clears: ClassVar[int] = 0
    breach = ""

    @initialize()
    def switched_on(self) -> None:
        """Cold, healthy, as after a reset."""
        self.rig.begin()
        self.breach = ""

    @rule(data=st.data(), waits=st.sampled_from(WAITS))
    def asked_for(self, data: st.DataObject, waits: int) -> None:
        """Every channel is asked for some light, and time passes."""
        count = len(self.rig.lamp.channels)
        shares = data.draw(st.tuples(*[st.sampled_from(LEVELS)] * count), "requests")
        self.rig.requests_q15 = request_q15(shares)
        self._wait(waits)

    @rule(waits=st.sampled_from(WAITS))
    def waited(self, waits: int) -> None:
        """Time passes."""
        self._wait(waits)

    @rule(data=st.data(), waits=st.sampled_from(WAITS))
    def breaks(self, data: st.DataObject, waits: int) -> None:
        """A sensor breaks, or breaks otherwise."""
        sensor = data.draw(st.sampled_from(list(self.rig.lamp.sensors)), "sensor")
        kinds = ("sensor open", "sensor short", "sensor stuck")
        self.rig.breaks(sensor, data.draw(st.sampled_from(kinds), "kind"))
        self._wait(waits)

    @rule(waits=st.sampled_from(WAITS))
    def heals(self, waits: int) -> None:
        """Whatever was broken is mended."""
        for sensor in self.rig.lamp.sensors:
            self.rig.heals(sensor)
        self._wait(waits)

    @rule(waits=st.sampled_from(WAITS))
    def power_cycled(self, waits: int) -> None:
        """Off and on again: the controller forgets, the lamp stays as hot as it is."""
        self.rig.reset()
        self._wait(waits)

    @rule(ambient_c=st.sampled_from((25.0, HOTTEST_C, COLDEST_C)), waits=st.sampled_from(WAITS))
    def carried(self, ambient_c: float, waits: int) -> None:
        """The lamp comes into another ambient."""
        self.rig.ambient_c = ambient_c
        self._wait(waits)

    @invariant()
    def promises_hold(self) -> None:
        """No step has broken a promise."""
        if self.breach:
            raise PromiseBrokenError(self.breach, self.rig.lamp)

    @rule()
    def cleared(self) -> None:
        """So much time passes as a fault takes to clear."""
        self._wait(self.clears)

    def _wait(self, periods: int) -> None:
        for _ in range(periods):
            self.rig.step()
            for breach in self.rig.breaches():
                self.breach = breach.sentence
                return


def sequences(lamp: Lamp, body: Body | None = None) -> Any:
    """A state machine for the controller of ``lamp``, or for ``body`` with its settings.

    Its ``TestCase`` is collected by pytest. Promised is: no duty above its request, the safe duty
    while a wire of a sensor is broken, darkness above the cut-off, and that a fault clears, or
    latches, as is set.
    """
    rig = Rig(lamp, body)
    clears = math.ceil(rig.lamp.controller.clear_after_s / rig.lamp.timing.control_period_s)
    return type("SequencesOfLamp", (Sequences,), {"rig": rig, "clears": clears + PATIENCE + 1})
