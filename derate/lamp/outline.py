"""Where things lie on the plane of a board: positions, sizes and outlines, in metres."""

from typing import Annotated, Any

from pydantic import BeforeValidator

from derate.lamp.quantities import POSITIVE, Metre
from derate.lamp.sentence import wrong


def _two(due: str) -> BeforeValidator:
    def hold(value: Any) -> Any:
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise wrong(due)
        return value

    return BeforeValidator(hold)


Point = tuple[float, float]
Position = Annotated[tuple[Metre, Metre], _two('a position such as ["20 mm", "15 mm"]')]
Size = Annotated[
    tuple[Annotated[Metre, POSITIVE], Annotated[Metre, POSITIVE]],
    _two('two lengths such as ["60 mm", "40 mm"]'),
]
