"""What every part of a lamp shares: it is frozen, and its keys are checked before its values."""

import re
from typing import Annotated, Any, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    ValidationInfo,
    model_validator,
)
from pydantic.fields import FieldInfo

from derate.lamp.quantities import Unit, key_of, source_of
from derate.lamp.sentence import nearest_key, wrong

_NAME = re.compile(r"[a-z][a-z0-9_]*")


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise wrong("text in quotes")
    return value


def _name(text: str) -> str:
    if not _NAME.fullmatch(text):
        raise wrong('a name of small letters, digits and "_" that begins with a letter')
    return text


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise wrong("true or false")
    return value


def _price(value: object) -> float:
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= 1e9:
        return float(value)
    raise wrong("a bare number from 0 to 1e9 such as 1.80")


Text = Annotated[str, BeforeValidator(_text)]
Name = Annotated[str, BeforeValidator(_text), AfterValidator(_name)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Price = Annotated[float, BeforeValidator(_price)]
"""What one piece costs, a bare number in the currency of the lamp."""


def whole(low: int, high: int) -> BeforeValidator:
    """A whole number from ``low`` to ``high``."""

    def hold(value: object) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise wrong(f"a whole number from {low} to {high}")
        return value

    return BeforeValidator(hold)


class Part(BaseModel):
    """A part of a lamp: frozen, no unknown keys, keys written without the unit suffix."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", alias_generator=key_of, populate_by_name=True
    )

    @model_validator(mode="before")
    @classmethod
    def _keys(cls, data: Any, info: ValidationInfo) -> Any:
        if isinstance(data, cls):
            return data
        if not isinstance(data, dict):
            raise wrong("a table with the keys " + ", ".join(_keys_of(cls)))
        known = _keys_of(cls)
        as_in_file = source_of(info) is not None
        for key in data if cls.model_config["extra"] == "forbid" else ():
            if key not in known and (as_in_file or key not in cls.model_fields):
                raise wrong(nearest_key(key, known), found="an unknown key", key=(key,))
        for name, field in cls.model_fields.items():
            key = field.alias or name
            if field.is_required() and key not in data and name not in data:
                raise wrong(_due(field), found="nothing", key=(key,))
        return data

    @model_validator(mode="after")
    def _kind_is_told(self) -> Self:
        """The key that says which kind a part is counts as given: no dump may leave it out."""
        if "kind" in type(self).model_fields:
            self.model_fields_set.add("kind")
        return self


def _keys_of(part: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in part.model_fields.items()]


def _due(field: FieldInfo) -> str:
    """What a missing key should have held."""
    if field.description:
        return field.description
    units = [mark for mark in field.metadata if isinstance(mark, Unit)]
    return units[0].due if units else _due_within(field.annotation)


def _due_within(annotation: Any) -> str:
    for argument in get_args(annotation):
        if isinstance(argument, Unit):
            return argument.due
        due = _due_within(argument)
        if due:
            listed = get_args(annotation)[-1] is ...
            return f"a list, each {due}" if listed else due
    return ""
