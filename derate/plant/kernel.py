"""How the plant's inner functions are compiled.

They run once a tick for every unit, so they must not allocate and need not count references to
the arrays they are given; leaving the counting out makes them three times faster. numba refuses
to compile one that would allocate. Where a function with many arguments is called from one place,
handing them over costs as much as the work: those are inlined.
"""

from collections.abc import Callable
from typing import Any

from derate.compiled import kept_on_disk

_OPTIONS: dict[str, Any] = {"error_model": "numpy", "_nrt": False}

kernel = kept_on_disk(**_OPTIONS)
"""Decorator like ``derate.compiled.compiled``, for functions that only fill given arrays."""
inlined = kept_on_disk(**_OPTIONS, forceinline=True)
"""The same, for steps of a larger function."""


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
