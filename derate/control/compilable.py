"""What of a policy in Python numba can compile, and why the rest is left to the interpreter.

Functions of numbers and tuples of numbers can be compiled, with those of ``math``, and with
functions and methods of the policy's own that are made of the same. Of an object they may read
attributes that are such numbers: these are data, so that other settings need no other program.
``**`` and ``round`` are left to the interpreter, since compiled they may differ in the last bit.
"""

import dis
import inspect
from collections.abc import Callable
from typing import Any

from numba import types
from numba.extending import overload_method, register_jitable

Function = Callable[..., Any]

MENDED_BY = "due numbers, tuples of them, and functions of math or its own"
LARGEST = 1 << 62
REFUSED = {
    "**": "due x * x, or math.pow(x, 2.0), which compiled are the same",
    "round": "due math.floor(x + 0.5), which compiled is the same",
    "print": MENDED_BY,
}

_MADE_KNOWN: set[Function] = set()


class NotCompiledError(Exception):
    """Why a policy is left to the interpreter, as the end of a sentence."""


def numbers_of(settings: Any) -> dict[str, Any]:
    """The attributes of an object that are numbers or tuples of them, its fields first."""
    names = [*getattr(settings, "_fields", ()), *dir(settings)]
    found = {}
    for name in dict.fromkeys(name for name in names if not name.startswith("__")):
        try:
            found[name] = _number(getattr(settings, name))
        except Exception:  # the user's own properties may raise anything
            continue
    return found


def _number(value: Any) -> Any:
    """A number of 64 bits, or a tuple of them; raises TypeError for anything else."""
    if isinstance(value, tuple) and value:
        return tuple(map(_number, value))
    for kind in (bool, int, float):
        if isinstance(value, kind) and not (kind is int and abs(value) > LARGEST):
            return kind(value)
    raise TypeError(type(value))


def make_known(function: Function, settings: Any, names: tuple[str, ...], kinds: Any) -> Any:
    """Let numba know what a function calls; the type of its settings, attributes by ``names``.

    Raises NotCompiledError where it uses what compiled code does in a way of its own.
    """
    owner: Any = type("Settings", (tuple,), {"_fields": names})
    due: list[Function] = [function]
    known: set[Function] = set()
    while due:
        one = due.pop()
        if one in known:
            continue
        known.add(one)
        _refuse_what_differs(one)
        for name in one.__code__.co_names:
            if inspect.isfunction(named := one.__globals__.get(name)):
                due.append(named)
            if inspect.isfunction(method := inspect.getattr_static(type(settings), name, None)):
                due.append(method)
                _know_method(owner, name, method)
    for one in known - _MADE_KNOWN - {function}:
        register_jitable(one)
    _MADE_KNOWN.update(known - {function})
    return types.NamedTuple(kinds, owner)


def _know_method(owner: Any, name: str, method: Function) -> None:
    """Let compiled code call a method of settings of the type ``owner``."""

    def found(*arguments: Any) -> Function | None:
        return method if arguments[0].instance_class is owner else None

    shown: Any = found
    shown.__signature__ = inspect.signature(method)  # numba wants that of what it compiles
    overload_method(types.NamedTuple, name)(shown)


def _refuse_what_differs(function: Function) -> None:
    for step in dis.get_instructions(function):
        found = str(step.argrepr).removesuffix("=") if step.opname == "BINARY_OP" else step.argval
        if found in REFUSED and (step.opname == "BINARY_OP" or step.opname.startswith("LOAD_")):
            raise NotCompiledError(f"found {found} in {function.__name__}, {REFUSED[found]}")


def where(error: Exception, function: Function) -> str:
    """The line of the user's module at which numba stopped."""
    line = getattr(getattr(error, "loc", None), "line", None)
    if line is None:
        return f"in {function.__name__}"
    return f"in line {line} of {function.__module__}"
