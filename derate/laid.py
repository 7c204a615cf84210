"""Numbers and tuples of numbers at an address, for compiled functions and from Python.

    laid(address, KIND)             what lies at an address, of numba's type KIND
    lay(address, KIND, value)       a value put there, as that type
    row_at(address, count, DTYPE)   an array of numbers that lies there

From Python the same bytes are those of a numpy structure, ``structure_of(KIND)``: tuples as C lays
structs of their parts. Integers have 64 bits.
"""

from typing import Any

import numpy as np
from numba import carray, types
from numba.core.typing import signature
from numba.extending import intrinsic, register_jitable
from numpy.typing import NDArray

Words = NDArray[np.uint64]

PLAIN = {types.float64: np.float64, types.int64: np.int64, types.boolean: np.bool_}


class NotLaidError(Exception):
    """A type that is more than numbers and tuples of them."""


def structure_of(kind: Any) -> "np.dtype[Any]":
    """How values of numba's type ``kind`` lie in memory; raises NotLaidError for other types."""
    if kind in PLAIN:
        return np.dtype(PLAIN[kind])
    if kind is types.none:
        return np.dtype([])
    if isinstance(kind, types.BaseTuple):
        within: Any = kind
        parts = [(f"part_{i}", structure_of(part)) for i, part in enumerate(within.types)]
        return np.dtype(parts, align=True)
    raise NotLaidError(str(kind))


def words_of(kind: Any, value: Any) -> Words:
    """A value of ``kind`` as it lies in memory, filled up to whole words."""
    structure = structure_of(kind)
    words = np.zeros(-(-structure.itemsize // 8), np.uint64)
    if structure.itemsize:
        words.view(np.uint8)[: structure.itemsize].view(structure)[0] = _plain(value)
    return words


def value_in(words: Words, kind: Any, like: Any) -> Any:
    """The value of ``kind`` at the start of ``words``, in the tuples that ``like`` is made of."""
    structure = structure_of(kind)
    if not structure.itemsize:
        return like
    return _made_like(like, words.view(np.uint8)[: structure.itemsize].view(structure)[0].item())


def _plain(value: Any) -> Any:
    return tuple(map(_plain, value)) if isinstance(value, tuple) else value


def _made_like(like: Any, plain: Any) -> Any:
    if not isinstance(like, tuple):
        return plain
    parts = [_made_like(one, part) for one, part in zip(like, plain, strict=True)]
    made: Any = getattr(type(like), "_make", tuple)
    return made(parts)


def _place(context: Any, builder: Any, kind: Any, address: Any) -> Any:
    return builder.inttoptr(address, context.get_data_type(kind).as_pointer())


def _kind_in(named: Any) -> Any:
    """The type that stands as a global in a compiled function."""
    return named.instance_type if isinstance(named, types.TypeRef) else named.dtype


def _laid(typing: Any, address: Any, named: Any) -> Any:
    kind = _kind_in(named)

    def generate(context: Any, builder: Any, _: Any, arguments: Any) -> Any:
        if kind is types.none:
            return context.get_dummy_value()
        return context.unpack_value(builder, kind, _place(context, builder, kind, arguments[0]))

    return signature(kind, types.intp, named), generate


def _lay(typing: Any, address: Any, named: Any, value: Any) -> Any:
    kind = _kind_in(named)

    def generate(context: Any, builder: Any, _: Any, arguments: Any) -> Any:
        if kind is not types.none:
            cast = context.cast(builder, arguments[2], value, kind)
            context.pack_value(builder, kind, cast, _place(context, builder, kind, arguments[0]))
        return context.get_dummy_value()

    return signature(types.none, types.intp, named, value), generate


def _pointer(typing: Any, address: Any) -> Any:
    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        return builder.inttoptr(arguments[0], context.get_value_type(types.voidptr))

    return signature(types.voidptr, types.intp), generate


laid: Any = intrinsic(_laid)
lay: Any = intrinsic(_lay)
_pointer_to: Any = intrinsic(_pointer)


@register_jitable
def row_at(address: int, count: int, dtype: Any) -> Any:
    """An array of ``count`` numbers of a numpy type, as it lies at ``address``."""
    return carray(_pointer_to(address), count, dtype)
