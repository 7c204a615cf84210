"""Tolerances as a lamp file states them: tables [tolerances.NAME] and [tolerance_groups.NAME]."""

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from derate.lamp.part import Flag, Name, Part, Text
from derate.lamp.quantities import Ratio, Share, check
from derate.lamp.sentence import wrong

Distribution = Literal["normal", "uniform", "triangular", "lognormal"]

EXACT: dict[str, object] = {"tolerances": None, "tolerance_groups": None}
"""The changes of a lamp that leave nothing to vary in it."""


def _paths(value: Any) -> Any:
    paths = value if isinstance(value, list | tuple) else (value,)
    if not paths or not all(isinstance(path, str) for path in paths):
        raise wrong('a key of this file such as "links.paste.resistance", or a list of keys')
    return tuple(paths)


def _amount(value: Any) -> str | float:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    if isinstance(value, str) or (plain and -1e9 <= value <= 1e9):
        return value if isinstance(value, str) else float(value)
    raise wrong('a ratio such as "10 %", or a quantity in the unit of the key')


_Amount = Annotated[str | float, BeforeValidator(_amount)]


class Varies(Part):
    """One table [tolerances.NAME]: the keys ``of`` which one draw is taken, and its limits.

    ``spread``: to either side, as a ratio of the nominal value or in the unit of the key; of a key
    that is a ratio itself always the latter; lognormal, 20 % is the factor 1.2 up and down. Or
    ``low`` and ``high`` in that unit; one left out is the nominal value. Normal and lognormal: the
    limits lie ``sigmas`` standard deviations off, and nothing beyond unless ``truncated`` is false.
    Tables of one ``group`` are correlated.
    """

    of: Annotated[tuple[str, ...], BeforeValidator(_paths)] = Field(
        description='a key of this file such as "links.paste.resistance"'
    )
    spread: _Amount | None = None
    low: _Amount | None = None
    high: _Amount | None = None
    distribution: Distribution = "normal"
    sigmas: Annotated[
        Ratio, check(lambda sigmas: 0.1 <= sigmas <= 10, "a number from 0.1 to 10")
    ] = 3.0
    truncated: Flag = True
    group: Name | None = None
    about: Text = ""

    @model_validator(mode="after")
    def _agree(self) -> Self:
        ends = [key for key in ("low", "high") if getattr(self, key) is not None]
        if self.spread is None and not ends:
            due = 'a ratio such as "10 %", or low and high in the unit of the key'
            raise wrong(due, found="nothing", key=("spread",))
        for key in ends if self.spread is not None else ():
            raise wrong("no such key beside spread", key=(key,))
        for key in ("sigmas", "truncated"):
            if self.distribution in ("uniform", "triangular") and key in self.model_fields_set:
                due = f"no such key, as the distribution is {self.distribution}"
                raise wrong(due, key=(key,))
        return self


class Together(Part):
    """One table [tolerance_groups.NAME]: how far the tables of the group go together.

    ``correlation`` of the normal scores of any two of them, 0..1.
    """

    correlation: Share = Field(description='a ratio from 0 to 1, or "0 %" to "100 %"')
