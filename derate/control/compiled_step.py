"""The controller in Python as compiled code calls it: with the arguments of ``derate_step``.

Step for step what ``derate.control.body`` does, of the same functions. The settings lie at an
address, the memory of a unit holds what is kept between steps, then its readings, then the state of
its policy. A step in which the policy fails is noted, and from then on nothing is driven.
"""

import ctypes
import functools
import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numba import cfunc, typeof, types

from derate.compiled import compiled
from derate.control import limiting
from derate.control.command import FAULT, ONE_Q15, OPEN, SECOND, SHORT
from derate.control.compiled_policy import CompiledPolicy, share_at
from derate.control.faults import FaultRules
from derate.control.policy import KEY
from derate.control.ramp import Ramp
from derate.control.shares import share_q15, shares_of
from derate.errors import InputError
from derate.laid import Words, laid, lay, row_at, value_in, words_of
from derate.lamp.lamp import Lamp
from derate.sensing import circuit
from derate.sensing.chain import Chain
from derate.sensing.lookup import CENTI, reading_at, wires_at

WORD = 8
LIMIT_SHIFT = 16


class Table(NamedTuple):
    """A sensor's fault window, and its knots, how many and at which addresses."""

    low_code: int
    high_code: int
    open_is_high: bool
    knots: int
    codes: int
    centi_c: int


class Settings(NamedTuple):
    """All that a step takes; the rest by its address.

    ``tables``: one a sensor; ``shares``: knots of each channel, 0 where all have the same share;
    ``policy``, ``policy_settings``: entry and settings; ``note``: where a failure is noted.
    """

    rules: limiting.Rules
    sensors: int
    channels: int
    tables: int
    shares: int
    knots: int
    policy: int
    policy_settings: int
    note: int


class Note(NamedTuple):
    """What a failed step leaves: addresses of its settings and memory, 0 without one; reading."""

    settings: int
    memory: int
    reading_c: float


RULES = limiting.Rules(
    1.0, 1.0, 1.0, 1, Ramp(1.0, 1.0, 1), FaultRules(1.0, 1.0, 1, False), limiting.CHECK_NOTHING
)
TABLE = typeof(Table(0, 0, True, 0, 0, 0))
SETTINGS = typeof(Settings(RULES, 0, 0, 0, 0, 0, 0, 0, 0))
HELD = typeof(limiting.begin(RULES))
NOTE = typeof(Note(0, 0, 0.0))
HELD_SIZE = WORD * len(words_of(HELD, limiting.begin(RULES)))
TABLE_SIZE = WORD * len(words_of(TABLE, Table(0, 0, True, 0, 0, 0)))


@compiled
def step(settings_at: int, memory_at: int, codes_at: int, requests_at: int, duties_at: int) -> int:
    """One control period; flags and limit as the C returns them, 0 once a policy has failed."""
    settings = laid(settings_at, SETTINGS)
    rules, sensors, channels = settings.rules, settings.sensors, settings.channels
    duties = row_at(duties_at, channels, np.uint16)
    if laid(settings.note, NOTE).settings != 0:
        duties[:] = 0
        return 0
    codes = row_at(codes_at, sensors, np.uint16)
    readings_c = row_at(memory_at + HELD_SIZE, sensors, np.float64)
    seen = 0
    before_c = (readings_c[0], readings_c[sensors - 1])
    for i in range(sensors):
        table = laid(settings.tables + i * TABLE_SIZE, TABLE)
        wires = wires_at(table.low_code, table.high_code, table.open_is_high, codes[i])
        readings_c[i] = math.nan
        if wires == circuit.HEALTHY:
            knots = row_at(table.codes, table.knots, np.uint16)
            centi_c = row_at(table.centi_c, table.knots, np.int16)
            readings_c[i] = reading_at(knots, centi_c, codes[i]) / CENTI
        else:
            seen |= (OPEN if wires == circuit.OPEN else SHORT) | (SECOND if i > 0 else 0)
    reading_c = limiting.hottest_c(readings_c)
    seen |= limiting.implausible(rules, readings_c, before_c)
    seen, held = limiting.looked(rules, laid(memory_at, HELD), reading_c, seen)
    allowed = 0.0
    if seen == 0:
        state_at = memory_at + HELD_SIZE + WORD * sensors
        allowed = share_at(
            settings.policy, settings.policy_settings, state_at, held.filtered_c, rules.period_s
        )
        if math.isnan(allowed):
            lay(settings.note, NOTE, Note(settings_at, memory_at, held.filtered_c))
            duties[:] = 0
            return 0
    status, held = limiting.limited(rules, held, reading_c, seen, allowed)
    limit_q15 = limiting.share_q15(held.ramp.limit)
    requests = row_at(requests_at, channels, np.uint16)
    highest_q15 = 0
    for c in range(channels):
        share = limit_q15
        if settings.shares != 0 and status & FAULT == 0:
            at = settings.shares + WORD * c * settings.knots
            share = share_q15(row_at(at, settings.knots, np.int64), limit_q15)
        request: Any = min(np.int64(requests[c]), ONE_Q15)
        duties[c] = request * share >> 15
        highest_q15 = max(highest_q15, request * share >> 15)
    lay(memory_at, HELD, limiting.driven(rules, held, reading_c, seen, highest_q15))
    return limit_q15 << LIMIT_SHIFT | status


class _Laid(NamedTuple):
    """Settings of a lamp in memory, and what they speak of."""

    rules: limiting.Rules
    sensors: int
    policy: CompiledPolicy
    words: Words
    kept: tuple[Any, ...]


class CompiledSteps:
    """Controllers in Python, compiled; their settings live as long as this does."""

    def __init__(self) -> None:
        self._note = words_of(NOTE, Note(0, 0, 0.0))
        self._laid: dict[int, _Laid] = {}

    @property
    def step(self) -> int:
        """Address of the step."""
        address: int = _entry().address
        return address

    def settings(self, lamp: Lamp, chains: Sequence[Chain], policy: CompiledPolicy) -> int:
        """The settings of a lamp laid out; their address."""
        rules, shares = limiting.rules_of(lamp), shares_of(lamp)
        tables = np.concatenate([_table(chain) for chain in chains])
        knots = np.array(shares.knots_q15 if shares else (), np.int64)
        settings = Settings(
            rules,
            len(chains),
            len(lamp.channels),
            tables.ctypes.data,
            knots.ctypes.data if shares else 0,
            knots.shape[-1],
            policy.entry.address,
            policy.settings.ctypes.data,
            self._note.ctypes.data,
        )
        words = words_of(SETTINGS, settings)
        kept = tables, knots, tuple(chains)
        self._laid[words.ctypes.data] = _Laid(rules, len(chains), policy, words, kept)
        return words.ctypes.data

    def begun(self, settings: int) -> Words:
        """The memory of one more unit, as after a reset."""
        laid_out = self._laid[settings]
        missing = np.full(laid_out.sensors, math.nan).view(np.uint64)
        held = words_of(HELD, limiting.begin(laid_out.rules))
        return np.concatenate([held, missing, laid_out.policy.begun()[0]])

    def check(self) -> None:
        """Raises InputError, in the words of the interpreter, if the policy of a unit failed.

        The memories of all units have to be there still.
        """
        note = value_in(self._note, NOTE, Note(0, 0, 0.0))
        if note.settings == 0:
            return
        laid_out = self._laid[note.settings]
        policy, (begun, like) = laid_out.policy, laid_out.policy.begun()
        at = note.memory + HELD_SIZE + WORD * laid_out.sensors
        words = np.array((ctypes.c_uint64 * len(begun)).from_address(at))
        state = value_in(words, policy.entry.state, like)
        policy.policy.limit(state, note.reading_c, laid_out.rules.period_s, ())
        found = f"no share at {note.reading_c:g} degC once compiled"
        raise InputError(f"{KEY}: found {found}, due a share from 0 to 1 as interpreted")


@functools.cache
def _entry() -> Any:
    """The step as C calls it."""

    def called(settings: int, memory: int, codes: int, requests: int, duties: int) -> int:
        return step(settings, memory, codes, requests, duties)

    return cfunc(types.uint32(*[types.intp] * 5))(called)


def _table(chain: Chain) -> Words:
    lookup = chain.lookup
    window, knots, centi_c = lookup.window, lookup.knots, lookup.centi_c
    sides = int(window.low_code), int(window.high_code), bool(window.open_is_high)
    return words_of(TABLE, Table(*sides, len(knots), knots.ctypes.data, centi_c.ctypes.data))
