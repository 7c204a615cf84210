"""A policy in Python, compiled by numba as it stands, to be called by its address.

Before it is used a compiled policy goes through a course of readings beside the interpreter, and
has to give the very same shares.
"""

import ctypes
import itertools
import math
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import cfunc, njit, typeof, types
from numba.core.registry import cpu_target
from numba.core.typing import signature
from numba.extending import intrinsic

from derate.control.compilable import MENDED_BY, NotCompiledError, make_known, numbers_of, where
from derate.control.policy import Policy, policy_of
from derate.errors import InputError
from derate.laid import NotLaidError, Words, laid, lay, structure_of, words_of
from derate.lamp.lamp import Lamp

LONGEST = 60
"""Letters of a state that are shown."""
COURSE_STEPS = 600
COLDEST_C, HOTTEST_C = -40.0, 150.0
"""The course wanders between these, in whole hundredths as readings have them."""
STATE_TRIES = 3
"""How often the type of the state is widened, say from int to float, until it stays."""
ENTRY = types.float64(types.intp, types.intp, types.float64, types.float64)
FAILED = math.nan
"""What the entry answers instead of a share that is none, or when the policy raised something."""


@dataclass(frozen=True)
class Entry:
    """One compiled form: ``address`` of a function of (settings, state, reading_c, period_s).

    ``settings``, ``state``: numba's types of what lies at the two addresses; the state is replaced.
    """

    address: int
    settings: Any
    state: Any
    kept: Any


@dataclass(frozen=True)
class CompiledPolicy:
    """A lamp's policy: its entry, its settings as they lie in memory, and the interpreter's."""

    entry: Entry
    settings: Words
    policy: Policy

    def begun(self) -> tuple[Words, Any]:
        """The state as after a reset, as it lies in memory and as the interpreter has it."""
        state = self.policy.begin()
        return words_of(self.entry.state, state), state


def _share_at(
    typing: Any, entry: Any, settings: Any, state: Any, reading_c: Any, period_s: Any
) -> Any:
    def generate(context: Any, builder: Any, _: Any, arguments: Any) -> Any:
        word, real = ir.IntType(64), ir.DoubleType()
        kind = ir.FunctionType(real, [word, word, real, real])
        function = builder.inttoptr(arguments[0], kind.as_pointer())
        return builder.call(function, arguments[1:])

    return signature(types.float64, types.intp, *ENTRY.args), generate


share_at: Any = intrinsic(_share_at)
"""``share_at(entry, settings, state, reading_c, period_s)``: the share, nan where there is none."""

_ENTRIES: dict[tuple[Any, ...], Entry | NotCompiledError] = {}
_LOCK = threading.RLock()


def not_compiled_because(lamp: Lamp) -> str | None:
    """Why the policy of a lamp is left to the interpreter, None where it can be compiled."""
    try:
        compiled_policy(lamp)
    except NotCompiledError as error:
        return f'controller.policy.kind "{lamp.controller.policy.kind}" is not compiled ({error})'
    return None


def compiled_policy(lamp: Lamp) -> CompiledPolicy:
    """The policy of a lamp, compiled; the compiled form of a class serves all its settings.

    Raises NotCompiledError where it cannot be, InputError as ``policy_of``.
    """
    policy = policy_of(lamp)
    if policy.plain is None:
        raise NotCompiledError("it is more than a function of state, reading and period")
    function, settings = policy.plain
    numbers = numbers_of(settings)
    kinds = tuple(map(typeof, numbers.values()))
    key = function, tuple(numbers), kinds, type(settings), _kind_of(policy.begin())
    with _LOCK:
        if key not in _ENTRIES:
            try:
                known = make_known(function, settings, tuple(numbers), kinds)
                _ENTRIES[key] = found = _entry(function, known, key[-1])
                _tried(found, policy, tuple(numbers.values()), lamp.timing.control_period_s)
            except NotCompiledError as error:
                _ENTRIES[key] = error
        made = _ENTRIES[key]
    if isinstance(made, NotCompiledError):
        raise made
    return CompiledPolicy(made, words_of(made.settings, tuple(numbers.values())), policy)


def _kind_of(state: Any) -> Any:
    """numba's type of a state; raises NotCompiledError where it is more than numbers."""
    try:
        kind = typeof(state)
        structure_of(kind)
    except (ValueError, NotLaidError):
        found = " ".join(repr(state).split())[:LONGEST]
        raise NotCompiledError(f"found a state {found}, {MENDED_BY}") from None
    return kind


def _entry(function: Callable[..., Any], settings: Any, state: Any) -> Entry:
    """Compile a ``limit`` for these types of settings and state."""
    limit = njit(function)
    try:
        for _ in range(STATE_TRIES):
            before, state = state, _state_after(limit, settings, state)
            if state == before:
                compiled = _caller(limit, settings, state)
                return Entry(compiled.address, settings, state, (limit, compiled))
    except NotCompiledError:
        raise
    except Exception as error:  # numba refuses in many ways
        found = f"found something else {where(error, function)}"
        raise NotCompiledError(f"{found}, {MENDED_BY}") from None
    raise NotCompiledError("found a state of another type after each step, due one type")


def _state_after(limit: Any, settings: Any, state: Any) -> Any:
    """The type that holds the states before and after a step."""
    kinds = settings, state, types.float64, types.float64
    limit.compile(kinds)
    answer = limit.overloads[kinds].signature.return_type
    parts: Any = getattr(answer, "types", ())
    if len(parts) != 2:
        raise NotCompiledError(f"found an answer of the type {answer}, due a share and a state")
    share, after = parts
    if not isinstance(share, types.Number | types.Boolean):
        raise NotCompiledError(f"found a share of the type {share}, due a number")
    both = cpu_target.typing_context.unify_types(state, after)
    if both is None:
        raise NotCompiledError(f"found states of the types {state} and {after}, due one type")
    return both


def _caller(limit: Any, settings: Any, state: Any) -> Any:
    """The entry: takes settings and state from memory, and keeps the state of a good answer."""

    def called(settings_at: int, state_at: int, reading_c: float, period_s: float) -> float:
        try:
            share, after = limit(
                laid(settings_at, settings), laid(state_at, state), reading_c, period_s
            )
        except Exception:
            return FAILED
        if not (share >= 0.0 and share <= 1.0):
            return FAILED
        lay(state_at, state, after)
        return float(share)

    return cfunc(ENTRY)(called)


def _course() -> Iterator[float]:
    """Readings [degC] that wander, slowly and by jumps; the same ones every time."""
    numbers = np.random.default_rng(1)
    reading_c = 20.0
    for step in range(COURSE_STEPS):
        reading_c += float(numbers.normal(0.5, 2.0))
        if step % 100 == 0 or not COLDEST_C < reading_c < HOTTEST_C:
            reading_c = float(numbers.uniform(COLDEST_C, HOTTEST_C))
        yield math.floor(reading_c * 100.0) / 100.0


def _tried(entry: Entry, policy: Policy, numbers: Any, period_s: float) -> None:
    """Go through the course both ways; raises NotCompiledError where they part."""
    settings = words_of(entry.settings, numbers)
    state = policy.begin()
    memory = np.append(words_of(entry.state, state), np.uint64(0))
    share_of = ctypes.CFUNCTYPE(
        ctypes.c_double, ctypes.c_ssize_t, ctypes.c_ssize_t, ctypes.c_double, ctypes.c_double
    )(entry.address)
    for step, reading_c in zip(itertools.count(1), _course()):
        ours = share_of(settings.ctypes.data, memory.ctypes.data, reading_c, period_s)
        try:
            share, state = policy.limit(state, reading_c, period_s, ())
        except InputError:
            share = math.nan
        if share != ours and not (math.isnan(share) and math.isnan(ours)):
            found = f"found a share of {ours!r} compiled and {share!r} interpreted"
            raise NotCompiledError(f"{found} at step {step} of a trial, due the same")
        if math.isnan(ours):
            return
