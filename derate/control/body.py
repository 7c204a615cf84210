"""The controller in Python, step for step the order of the C reference, in floating point.

codes -> window -> table -> jump -> disagreement -> stuck -> hottest -> filter -> policy
      -> fault and cut-off -> attack, hold, release -> duty = request * share of the limit

It reads the same table as the C; everything after it is computed without the C's rounding, so
the two agree within quantisation.
"""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from derate.control import limiting
from derate.control.command import FAULT, ONE_Q15, OPEN, SECOND, SHORT, Command
from derate.control.policy import policy_of
from derate.control.shares import share_q15, shares_of
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain


class State(NamedTuple):
    """All memory of the controller."""

    readings_c: tuple[float, ...]
    policy: Any
    held: limiting.Held


class PythonBody:
    """The controller of ``lamp``, reading its sensors through ``chains``, one each, in order.

    ``state`` is all its memory; it may be read, and set to go on from an earlier one.
    """

    def __init__(self, lamp: Lamp, chains: Sequence[Chain]) -> None:
        self.rules = limiting.rules_of(lamp)
        self.chains = tuple(chains)
        self.policy = policy_of(lamp)
        self.shares = shares_of(lamp)
        self.start()

    def start(self) -> None:
        """Begin as after a reset."""
        missing = (math.nan,) * len(self.chains)
        self.state = State(missing, self.policy.begin(), limiting.begin(self.rules))

    def step(self, codes: Sequence[int], requests_q15: Sequence[int]) -> Command:
        """One control period: codes (one a sensor) and requests (Q15, one a channel) to duties."""
        rules, policy, allowed = self.rules, self.state.policy, 0.0
        readings_c = tuple(
            chain.reading_c(int(code)) for chain, code in zip(self.chains, codes, strict=True)
        )
        reading_c = limiting.hottest_c(readings_c)
        seen = self._wires(codes, readings_c)
        seen |= limiting.implausible(rules, readings_c, self.state.readings_c)
        seen, held = limiting.looked(rules, self.state.held, reading_c, seen)
        if not seen:
            allowed, policy = self.policy.limit(
                policy, held.filtered_c, rules.period_s, requests_q15
            )
        status, held = limiting.limited(rules, held, reading_c, seen, allowed)
        limit_q15 = limiting.share_q15(held.ramp.limit)
        duties = self._duties(limit_q15, status, requests_q15)
        held = limiting.driven(rules, held, reading_c, seen, max(duties))
        self.state = State(readings_c, self.policy.driven(policy, duties), held)
        return Command(duties, limit_q15, status)

    def _duties(self, limit_q15: int, status: int, requests_q15: Sequence[int]) -> tuple[int, ...]:
        """Request times share, rounded down; under a fault every share is the limit itself."""
        requests = [min(int(request), ONE_Q15) for request in requests_q15]
        if self.shares is None or status & FAULT:
            return tuple(request * limit_q15 >> 15 for request in requests)
        return tuple(
            request * share_q15(knots, limit_q15) >> 15
            for request, knots in zip(requests, self.shares.knots_q15, strict=True)
        )

    def _wires(self, codes: Sequence[int], readings_c: tuple[float, ...]) -> int:
        """OPEN and SHORT, as the fault windows of the sensors take the codes."""
        seen = 0
        for index, (chain, code) in enumerate(zip(self.chains, codes, strict=True)):
            if math.isnan(readings_c[index]):
                window = chain.lookup.window
                is_open = (int(code) >= window.high_code) == window.open_is_high
                seen |= (OPEN if is_open else SHORT) | (SECOND if index else 0)
        return seen
