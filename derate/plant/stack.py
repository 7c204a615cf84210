"""Named tuples of many units as one, whose arrays have the unit as their first axis."""

import operator
from collections.abc import Sequence
from typing import Any, TypeVar

import numpy as np
from numba import types
from numba.core.typing import signature
from numba.extending import intrinsic
from numpy.typing import NDArray

T = TypeVar("T", bound=tuple[Any, ...])


def stacked(units: Sequence[T]) -> T:
    """The named tuples of ``units``, alike in shape, as one; numbers become arrays (U)."""
    columns = zip(*units, strict=True)
    kind: Any = type(units[0])
    stack: T = kind(*(stacked(c) if isinstance(c[0], tuple) else np.stack(c) for c in columns))
    return stack


def picked(stack: T, units: NDArray[np.int64]) -> T:
    """Those units of a stack, copied."""
    kind: Any = type(stack)
    some: T = kind(*(picked(e, units) if isinstance(e, tuple) else e[units] for e in stack))
    return some


def _is_named(kind: Any) -> bool:
    return isinstance(kind, types.BaseNamedTuple)


def _one(typing: Any, stack: Any, index: Any) -> Any:
    """The type of one unit's part of a stack."""
    if _is_named(stack):
        parts = [_one(typing, each, index) for each in stack.types]
        return types.BaseTuple.from_types(parts, stack.instance_class)
    return typing.resolve_function_type(operator.getitem, (stack, index), {}).return_type


def _taken(typing: Any, stack: Any, index: Any) -> Any:

    def build(context: Any, builder: Any, kind: Any, value: Any, at: Any) -> Any:
        one = _one(typing, kind, index)
        if _is_named(kind):
            parts = [
                build(context, builder, each, builder.extract_value(value, i), at)
                for i, each in enumerate(kind.types)
            ]
            return context.make_tuple(builder, one, parts)
        take = context.get_function(operator.getitem, signature(one, kind, index))
        return take(builder, (value, at))

    def generate(context: Any, builder: Any, _: Any, arguments: Any) -> Any:
        return build(context, builder, stack, *arguments)

    return signature(_one(typing, stack, index), stack, index), generate


taken: Any = intrinsic(_taken)
"""``taken(stack, index)``: one unit's named tuple, views into the arrays of ``stacked``; for
kernels."""
