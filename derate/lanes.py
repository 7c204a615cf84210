"""Numbers of several units side by side in one register of the machine, for kernels.

A ``Lanes`` holds one number of each of ``LANES`` units. It adds, multiplies and compares like a
number, with another or with a plain number, lane by lane; comparing gives a ``Mask``. Arrays keep
the lane as their last axis:

    side(array, i, j)               lanes array[i, j, :]
    put(array, lanes, i, j)         array[i, j, :] = lanes
    pick(array, whole, i, .., c)    lane l of array[i, .., whole[l], c, l]
    look(array, whole, c)           lane l of array[whole[l], c]
    alike(whole)                    whether all lanes are the same
    where(mask, a, b)               a where the mask is set, b elsewhere
    but(numbers)                    a mask of the lanes whose bits are not set
    bits(mask)                      a whole number whose bit l is lane l of the mask
    whole(lanes), real(lanes)       truncated to whole numbers, and back
    root(lanes)                     square root

Indices must be inside the array. Only for compiled functions.
"""

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.core import cgutils
from numba.core.datamodel import PrimitiveModel, register_default
from numba.core.imputils import lower_builtin
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic

LANES = 8
"""Units side by side: as many doubles as the widest registers in use hold."""

DOUBLE, LONG, BIT = ir.DoubleType(), ir.IntType(64), ir.IntType(1)


class SideBySide(types.Type):
    """numba's type of lanes of one kind."""

    def __init__(self, kind: str) -> None:
        super().__init__(f"Side({kind})")
        self.kind = kind

    @property
    def vector(self) -> Any:
        """The type of the register."""
        return ir.VectorType({"real": DOUBLE, "whole": LONG, "mask": BIT}[self.kind], LANES)


REAL, WHOLE, MASK = (SideBySide(kind) for kind in ("real", "whole", "mask"))


@register_default(SideBySide)
class _Model(PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, kind.vector)


def _spread(context: Any, builder: Any, value: Any, kind: Any, wanted: SideBySide) -> Any:
    """A value of numba's type ``kind`` as lanes; a plain number stands in every lane."""
    if isinstance(kind, SideBySide):
        return value
    plain = types.float64 if wanted is REAL else types.int64
    value = context.cast(builder, value, kind, plain)
    empty = ir.Constant(wanted.vector, ir.Undefined)
    one = builder.insert_element(empty, value, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(
        one, empty, ir.Constant(ir.VectorType(ir.IntType(32), LANES), [0] * LANES)
    )


def _kind_of(arguments: Any) -> SideBySide | None:
    """Lanes that several arguments make together, None where they do not fit."""
    kinds = {a for a in arguments if isinstance(a, SideBySide)}
    if len(kinds) != 1 or not all(isinstance(a, SideBySide | types.Number) for a in arguments):
        return None
    kind: SideBySide = kinds.pop()
    return kind


def _called(builder: Any, name: str, lanes: Any) -> Any:
    """The answer of one of the compiler's own functions of lanes."""
    kind = ir.FunctionType(lanes.type, [lanes.type])
    name = f"{name}.v{LANES}f64"
    return builder.call(cgutils.get_or_insert_function(builder.module, kind, name), [lanes])


Build = Callable[..., Any]


def _operator(symbol: Any, builds: dict[SideBySide, Build], gives: SideBySide | None) -> None:
    """Let ``symbol`` work on lanes of these kinds; ``gives``: None for lanes of the same kind."""

    class Template(AbstractTemplate):
        def generic(self, arguments: Any, keywords: Any) -> Any:
            kind = _kind_of(arguments)
            return signature(gives or kind, *arguments) if kind in builds else None

    def lowered(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        kind = _kind_of(sig.args)
        assert kind is not None  # promised by the template
        lanes = [
            _spread(context, builder, value, of, kind)
            for value, of in zip(arguments, sig.args, strict=True)
        ]
        return builds[kind](builder, *lanes)

    infer_global(symbol)(Template)
    pairs = [(SideBySide, SideBySide), (SideBySide, types.Number), (types.Number, SideBySide)]
    for shape in [(SideBySide,)] if symbol in (abs, operator.invert) else pairs:
        lower_builtin(symbol, *shape)(lowered)


def _compared(symbol: str) -> dict[SideBySide, Build]:
    return {REAL: lambda b, x, y: b.fcmp_ordered(symbol, x, y)}


for _symbols, _builds in (
    (
        (operator.add, operator.iadd),
        {REAL: lambda b, x, y: b.fadd(x, y), WHOLE: lambda b, x, y: b.add(x, y)},
    ),
    ((operator.sub, operator.isub), {REAL: lambda b, x, y: b.fsub(x, y)}),
    ((operator.mul, operator.imul), {REAL: lambda b, x, y: b.fmul(x, y)}),
    ((operator.truediv,), {REAL: lambda b, x, y: b.fdiv(x, y)}),
    ((operator.xor, operator.ixor), {WHOLE: lambda b, x, y: b.xor(x, y)}),
    ((operator.lshift,), {WHOLE: lambda b, x, y: b.shl(x, y)}),
    ((operator.rshift,), {WHOLE: lambda b, x, y: b.lshr(x, y)}),
    (
        (operator.and_, operator.iand),
        {WHOLE: lambda b, x, y: b.and_(x, y), MASK: lambda b, x, y: b.and_(x, y)},
    ),
    ((operator.or_, operator.ior), {MASK: lambda b, x, y: b.or_(x, y)}),
):
    for _symbol in _symbols:
        _operator(_symbol, _builds, None)
_operator(operator.invert, {MASK: lambda b, x: b.not_(x)}, None)
_operator(abs, {REAL: lambda b, x: _called(b, "llvm.fabs", x)}, None)
_operator(max, {REAL: lambda b, x, y: b.select(b.fcmp_ordered(">", y, x), y, x)}, None)
_operator(min, {REAL: lambda b, x, y: b.select(b.fcmp_ordered("<", y, x), y, x)}, None)
for _symbol, _text in (
    (operator.lt, "<"),
    (operator.le, "<="),
    (operator.gt, ">"),
    (operator.ge, ">="),
):
    _operator(_symbol, _compared(_text), MASK)


def _unary(name: str, takes: SideBySide, gives: Any, build: Build) -> Any:
    """A function of lanes for kernels."""

    def typed(typing: Any, lanes: Any) -> Any:
        if lanes is not takes:
            return None

        def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
            return build(builder, arguments[0])

        return signature(gives, takes), generate

    typed.__name__ = name
    return intrinsic(typed)


root = _unary("root", REAL, REAL, lambda b, x: _called(b, "llvm.sqrt", x))
whole = _unary("whole", REAL, WHOLE, lambda b, x: b.fptosi(x, WHOLE.vector))
real = _unary("real", WHOLE, REAL, lambda b, x: b.sitofp(x, REAL.vector))
pattern = _unary("pattern", REAL, WHOLE, lambda b, x: b.bitcast(x, WHOLE.vector))
of_pattern = _unary("of_pattern", WHOLE, REAL, lambda b, x: b.bitcast(x, REAL.vector))
bits = _unary("bits", MASK, types.int64, lambda b, x: b.zext(b.bitcast(x, ir.IntType(LANES)), LONG))


def _where(typing: Any, mask: Any, a: Any, b: Any) -> Any:
    plain = WHOLE if isinstance(a, types.Integer) and isinstance(b, types.Integer) else REAL
    kind = _kind_of((a, b)) or plain
    if mask is not MASK:
        return None

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        first = _spread(context, builder, arguments[1], a, kind)
        return builder.select(arguments[0], first, _spread(context, builder, arguments[2], b, kind))

    return signature(kind, mask, a, b), generate


def _every(typing: Any, number: Any) -> Any:
    kind = REAL if isinstance(number, types.Float) else WHOLE

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        return _spread(context, builder, arguments[0], number, kind)

    return signature(kind, number), generate


def _lane_of(typing: Any, lanes: Any, number: Any) -> Any:
    plain = types.float64 if lanes is REAL else types.int64

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        return builder.extract_element(arguments[0], arguments[1])

    return signature(plain, lanes, types.int64), generate


def _but(typing: Any, numbers: Any) -> Any:
    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        some = builder.trunc(arguments[0], ir.IntType(LANES))
        return builder.not_(builder.bitcast(some, MASK.vector))

    return signature(MASK, types.int64), generate


def _alike(typing: Any, numbers: Any) -> Any:
    if numbers is not WHOLE:
        return None

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        zero = ir.Constant(ir.IntType(32), 0)
        first = builder.extract_element(arguments[0], zero)
        same = builder.icmp_signed(
            "==", arguments[0], _spread(context, builder, first, types.int64, WHOLE)
        )
        every_one = builder.bitcast(same, ir.IntType(LANES))
        return builder.icmp_unsigned("==", every_one, ir.IntType(LANES)(-1 % (1 << LANES)))

    return signature(types.boolean, WHOLE), generate


alike: Any = intrinsic(_alike)
but: Any = intrinsic(_but)
where: Any = intrinsic(_where)
every: Any = intrinsic(_every)
lane_of: Any = intrinsic(_lane_of)


def _place(context: Any, builder: Any, kind: Any, array: Any, at: list[Any]) -> Any:
    """Address of an element of an array with the lane as its last axis."""
    view = context.make_array(kind)(context, builder, array)
    return cgutils.get_item_pointer(context, builder, kind, view, at, wraparound=False)


def _numbers(context: Any, builder: Any, kinds: Any, values: Any) -> list[Any]:
    return [
        context.cast(builder, value, kind, types.intp)
        for kind, value in zip(kinds, values, strict=True)
    ]


def _element(array: Any) -> SideBySide:
    return REAL if array.dtype == types.float64 else WHOLE


def _side(typing: Any, array: Any, *at: Any) -> Any:
    kinds = at[0] if len(at) == 1 and isinstance(at[0], types.BaseTuple) else at

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        values = cgutils.unpack_tuple(builder, arguments[1])
        indices = _numbers(context, builder, kinds, values)
        place = _place(context, builder, array, arguments[0], [*indices, LONG(0)])
        vector = _element(array).vector
        loaded = builder.load(builder.bitcast(place, vector.as_pointer()))
        loaded.align = 8
        return loaded

    return signature(_element(array), array, types.StarArgTuple(kinds)), generate


def _put(typing: Any, array: Any, lanes: Any, *at: Any) -> Any:
    kinds = at[0] if len(at) == 1 and isinstance(at[0], types.BaseTuple) else at

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        values = cgutils.unpack_tuple(builder, arguments[2])
        indices = _numbers(context, builder, kinds, values)
        place = _place(context, builder, array, arguments[0], [*indices, LONG(0)])
        value = _spread(context, builder, arguments[1], lanes, _element(array))
        stored = builder.store(value, builder.bitcast(place, value.type.as_pointer()))
        stored.align = 8
        return context.get_dummy_value()

    return signature(types.none, array, lanes, types.StarArgTuple(kinds)), generate


side: Any = intrinsic(_side)
put: Any = intrinsic(_put)


def _pick(typing: Any, array: Any, picked: Any, *at: Any) -> Any:
    kinds = at[0] if len(at) == 1 and isinstance(at[0], types.BaseTuple) else at
    if picked is not WHOLE:
        return None

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        values = cgutils.unpack_tuple(builder, arguments[2])
        *front, last = _numbers(context, builder, kinds, values)
        found = ir.Constant(_element(array).vector, ir.Undefined)
        for number in range(LANES):
            lane = ir.IntType(32)(number)
            at = [*front, builder.extract_element(arguments[1], lane), last, LONG(number)]
            place = _place(context, builder, array, arguments[0], at)
            found = builder.insert_element(found, builder.load(place), lane)
        return found

    return signature(_element(array), array, picked, types.StarArgTuple(kinds)), generate


pick: Any = intrinsic(_pick)


def _look(typing: Any, array: Any, looked: Any, column: Any) -> Any:
    if looked is not WHOLE:
        return None

    def generate(context: Any, builder: Any, sig: Any, arguments: Any) -> Any:
        found = ir.Constant(REAL.vector, ir.Undefined)
        for number in range(LANES):
            lane = ir.IntType(32)(number)
            at = [builder.extract_element(arguments[1], lane), arguments[2]]
            place = _place(context, builder, array, arguments[0], at)
            found = builder.insert_element(found, builder.load(place), lane)
        return found

    return signature(REAL, array, looked, types.int64), generate


look: Any = intrinsic(_look)
