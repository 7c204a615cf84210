"""Named tuples of many units as one, whose arrays have the unit as their first axis."""

import operator
from collections.abc import Sequence
from typing import Any, TypeVar

import numpy as np
from numba import types
from numba.core.typing import signature
from numba.extending import intrinsic
from numba.np.arrayobj import populate_array
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


def _one(typing: Any, stack: Any, index: Any, part: Any) -> Any:
    """The type of one unit's part of a stack."""
    if _is_named(stack):
        parts = [_one(typing, each, index, part) for each in stack.types]
        return types.BaseTuple.from_types(parts, stack.instance_class)
    return part(typing, stack, index)


def _of_each(part: Any, take: Any) -> Any:
    """A function for kernels that takes a part of every array of a stack.

    ``part``: type of array and index -> type of the part; ``take`` makes the part.
    """

    def typed(typing: Any, stack: Any, index: Any) -> Any:

        def build(context: Any, builder: Any, kind: Any, value: Any, at: Any) -> Any:
            one = _one(typing, kind, index, part)
            if _is_named(kind):
                parts = [
                    build(context, builder, each, builder.extract_value(value, i), at)
                    for i, each in enumerate(kind.types)
                ]
                return context.make_tuple(builder, one, parts)
            return take(context, builder, one, kind, index, value, at)

        def generate(context: Any, builder: Any, _: Any, arguments: Any) -> Any:
            return build(context, builder, stack, *arguments)

        return signature(_one(typing, stack, index, part), stack, index), generate

    return intrinsic(typed)


def _first(typing: Any, array: Any, index: Any) -> Any:
    return typing.resolve_function_type(operator.getitem, (array, index), {}).return_type


def _take_first(
    context: Any, builder: Any, one: Any, array: Any, index: Any, value: Any, at: Any
) -> Any:
    take = context.get_function(operator.getitem, signature(one, array, index))
    return take(builder, (value, at))


def _last(typing: Any, array: Any, index: Any) -> Any:
    return array.copy(ndim=array.ndim - 1, layout="A") if array.ndim > 1 else array.dtype


def _take_last(
    context: Any, builder: Any, one: Any, array: Any, index: Any, value: Any, at: Any
) -> Any:
    whole = context.make_array(array)(context, builder, value)
    place = builder.gep(whole.data, [context.cast(builder, at, index, types.intp)])
    if array.ndim == 1:
        return context.unpack_value(builder, one, place)
    part = context.make_array(one)(context, builder)
    axes = range(array.ndim - 1)
    populate_array(
        part,
        data=builder.bitcast(place, part.data.type),
        shape=[builder.extract_value(whole.shape, axis) for axis in axes],
        strides=[builder.extract_value(whole.strides, axis) for axis in axes],
        itemsize=whole.itemsize,
        meminfo=whole.meminfo,
        parent=whole.parent,
    )
    return part._getvalue()


taken: Any = _of_each(_first, _take_first)
"""``taken(stack, index)``: one unit's named tuple, views into the arrays of ``stacked``; for
kernels."""
apart: Any = _of_each(_last, _take_last)
"""``apart(stack, lane)``: one unit's named tuple where the unit is the last axis; for kernels."""
