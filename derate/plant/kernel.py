"""How the plant's inner functions are compiled, and called from Python."""

from collections.abc import Callable
from typing import Any

from derate.compiled import inlined, kernel

__all__ = ["direct", "inlined", "kernel"]


def direct(function: Any, *arguments: Any) -> Callable[..., Any]:
    """The compiled form of ``function`` for arguments of these types, to be called straight.

    numba looks at the type of every array in every argument anew at each call, which takes longer
    than a step of the plant. The form given back does not look: its arguments must be of the very
    types of ``arguments``, arrays in the same memory order.
    """
    from numba import typeof

    types = tuple(typeof(argument) for argument in arguments)
    function.compile(types)
    entry: Callable[..., Any] = function.overloads[types].entry_point
    return entry
