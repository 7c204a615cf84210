"""Calling the C controller from compiled code, by its address."""

from typing import Any

from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.core.typing import signature
from numba.extending import intrinsic

POINTERS = 5


def _step_at(
    typing: Any, step: Any, settings: Any, state: Any, codes: Any, requests: Any, duties: Any
) -> Any:
    def generate(context: Any, builder: Any, _: Any, arguments: Any) -> Any:
        memory = ir.IntType(8).as_pointer()
        kind = ir.FunctionType(ir.IntType(32), [memory] * POINTERS)
        function = builder.inttoptr(arguments[0], kind.as_pointer())
        return builder.call(function, [builder.inttoptr(a, memory) for a in arguments[1:]])

    return signature(types.uint32, *[types.uintp] * (1 + POINTERS)), generate


step_at: Any = intrinsic(_step_at)
"""``step_at(step, settings, state, codes, requests, duties)``: ``derate_step`` at the address
``step``, its arguments by their addresses; flags and limit as the C returns them."""
