"""A policy in Python, compiled by numba as it stands, to be called by its address.

What can be compiled: functions of numbers and tuples of numbers, those of ``math``, and functions
of the policy's own module that are made of the same. Of an object it may read attributes that are
such numbers; they are data, so that other settings need no other program. ``**`` and ``round`` to
digits are left to the interpreter, since compiled they may differ in the last bit.

Before it is used a compiled policy goes through a course of readings beside the interpreter, and
has to give the very same shares.
"""

import ctypes
import dis
import inspect
import itertools
import math
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import cfunc, njit, typeof, types
from numba.core.errors import NumbaError
from numba.core.registry import cpu_target
from numba.core.typing import signature
from numba.extending import intrinsic, register_jitable

from derate.control.policy import Policy, policy_of
from derate.errors import InputError
from derate.laid import NotLaidError, Words, laid, lay, structure_of, words_of
from derate.lamp.lamp import Lamp

MENDED_BY = (
    "due numbers, tuples of them and functions of math or of its own module, without ** or print"
)
COURSE_STEPS = 600
COLDEST_C, HOTTEST_C = -40.0, 150.0
"""The course wanders between these, in whole hundredths as readings have them."""
STATE_TRIES = 3
"""How often the type of the state is widened, say from int to float, until it stays."""
ENTRY = types.float64(types.intp, types.intp, types.float64, types.float64)
FAILED = math.nan
"""What the entry answers instead of a share that is none, or when the policy raised something."""
LARGEST_INT = 1 << 62


class NotCompiledError(Exception):
    """Why a policy is left to the interpreter, as the end of a sentence."""


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
        return f'controller.policy.kind "{lamp.controller.policy.kind}" is not compiled: {error}'
    return None


def compiled_policy(lamp: Lamp) -> CompiledPolicy:
    """The policy of a lamp, compiled; the compiled form of a class serves all its settings.

    Raises NotCompiledError where it cannot be, InputError as ``policy_of``.
    """
    policy = policy_of(lamp)
    if policy.plain is None:
        raise NotCompiledError("found more than a function of settings, state, reading and period")
    function, settings = policy.plain
    numbers = _numbers_of(settings)
    state = policy.begin()
    try:
        kinds = tuple(map(typeof, numbers.values())), typeof(state)
    except ValueError:
        raise NotCompiledError(f"found a state {state!r}, {MENDED_BY}") from None
    key = function, tuple(numbers), kinds
    with _LOCK:
        if key not in _ENTRIES:
            try:
                _ENTRIES[key] = _entry(function, tuple(numbers), *kinds)
                _tried(_ENTRIES[key], policy, tuple(numbers.values()), lamp)  # type: ignore[arg-type]
            except NotCompiledError as error:
                _ENTRIES[key] = error
    found = _ENTRIES[key]
    if isinstance(found, NotCompiledError):
        raise found
    return CompiledPolicy(found, words_of(found.settings, tuple(numbers.values())), policy)


def _numbers_of(settings: Any) -> dict[str, Any]:
    """The attributes of an object that are numbers or tuples of them, its fields first."""
    names = [*getattr(settings, "_fields", ()), *(n for n in dir(settings) if n[:2] != "__")]
    found = {}
    for name in dict.fromkeys(names):
        try:
            found[name] = _number(getattr(settings, name))
        except (TypeError, AttributeError):
            continue
    return found


def _number(value: Any) -> Any:
    """A number of 64 bits, or a tuple of them; raises TypeError for anything else."""
    if isinstance(value, tuple) and value:
        return tuple(map(_number, value))
    for kind in (bool, int, float):
        if isinstance(value, kind) and not (kind is int and abs(value) > LARGEST_INT):
            return kind(value)
    raise TypeError(type(value))


def _entry(function: Callable[..., Any], names: tuple[str, ...], numbers: Any, state: Any) -> Entry:
    """Compile a ``limit`` for settings of these names and types and this type of state."""
    for one in _with_what_it_calls(function):
        _refuse_what_differs(one)
        if one is not function:
            register_jitable(one)
    owner: Any = type("Settings", (tuple,), {"_fields": names})
    settings = types.NamedTuple(numbers, owner)
    limit = njit(function)
    try:
        for _ in range(STATE_TRIES):
            structure_of(state)
            after = _state_after(limit, settings, state)
            if after == state:
                break
            state = after
        else:
            raise NotCompiledError("found a state that is of another type after each step")
        compiled = _caller(limit, settings, state)
    except NotLaidError:
        raise NotCompiledError(f"found a state of the type {state}, {MENDED_BY}") from None
    except NumbaError as error:
        raise NotCompiledError(
            f"found something else {_where(error, function)}, {MENDED_BY}"
        ) from None
    return Entry(compiled.address, settings, state, (limit, compiled))


def _state_after(limit: Any, settings: Any, state: Any) -> Any:
    """The type that holds the states before and after a step."""
    kinds = settings, state, types.float64, types.float64
    limit.compile(kinds)
    answer = limit.overloads[kinds].signature.return_type
    if not isinstance(answer, types.BaseTuple) or len(answer.types) != 2:
        raise NotCompiledError(f"found an answer of the type {answer}, due a share and a state")
    share, after = answer.types
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


def _with_what_it_calls(function: Any) -> list[Any]:
    """A function and the Python functions that it names, near or far."""
    found, due = [function], [function]
    while due:
        one = due.pop()
        named = [one.__globals__.get(name) for name in one.__code__.co_names]
        new = [f for f in named if inspect.isfunction(f) and f not in found]
        found += new
        due += new
    return found


def _refuse_what_differs(function: Any) -> None:
    """Raises NotCompiledError for what compiled code does in a way of its own."""
    for step in dis.get_instructions(function):
        if step.opname == "BINARY_OP" and step.argrepr in ("**", "**="):
            due = "due x * x or math.pow(x, 2.0), which are the same compiled"
            raise NotCompiledError(f"found ** in {function.__name__}, {due}")
        if step.argval in ("print", "round") and step.opname.startswith("LOAD_GLOBAL"):
            due = MENDED_BY if step.argval == "print" else "due math.floor(x + 0.5)"
            raise NotCompiledError(f"found {step.argval} in {function.__name__}, {due}")


def _where(error: Any, function: Any) -> str:
    """The line of the user's module at which numba stopped."""
    line = getattr(getattr(error, "loc", None), "line", function.__code__.co_firstlineno)
    return f"in {function.__name__}, line {line} of {function.__module__}.py"


def _course() -> Iterator[float]:
    """Readings [degC] that wander, slowly and by jumps; the same ones every time."""
    numbers = np.random.default_rng(1)
    reading_c = 20.0
    for step in range(COURSE_STEPS):
        reading_c += float(numbers.normal(0.5, 2.0))
        if step % 100 == 0 or not COLDEST_C < reading_c < HOTTEST_C:
            reading_c = float(numbers.uniform(COLDEST_C, HOTTEST_C))
        yield math.floor(reading_c * 100.0) / 100.0


def _tried(entry: Entry, policy: Policy, numbers: Any, lamp: Lamp) -> None:
    """Go through the course both ways; raises NotCompiledError where they part."""
    settings, period_s = words_of(entry.settings, numbers), lamp.timing.control_period_s
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
