"""What every part of a lamp shares: it is frozen, and its keys are checked before its values."""

import re
from typing import Annotated, Any, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    ModelWrapValidatorHandler,
    ValidationError,
    ValidationInfo,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails, InitErrorDetails, PydanticCustomError

from derate.lamp.quantities import Unit, key_of, source_of
from derate.lamp.sentence import nearest_key, wrong

_NAME = re.compile(r"[a-z][a-z0-9_]*")
_MATERIAL = re.compile(r"[A-Za-z0-9][A-Za-z0-9_ -]{0,40}")


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise wrong("text in quotes")
    return value


def _name(text: str) -> str:
    if not _NAME.fullmatch(text):
        raise wrong('a name of small letters, digits and "_" that begins with a letter')
    return text


def _of_material(text: str) -> str:
    if not _MATERIAL.fullmatch(text):
        raise wrong('the name of a material such as "fr4"')
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
MaterialName = Annotated[str, BeforeValidator(_text), AfterValidator(_of_material)]
"""A material as it is usually called, "FR-4" as well; ``derate.lamp.material`` knows the words."""
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

    @model_validator(mode="wrap")
    @classmethod
    def _keys(cls, data: Any, read: ModelWrapValidatorHandler[Self], info: ValidationInfo) -> Self:
        """Unknown and missing keys, told beside what is wrong with the values of the others."""
        if isinstance(data, cls):
            return read(data)
        data = cls._as_table(data)
        if not isinstance(data, dict):
            raise wrong("a table with the keys " + ", ".join(_keys_of(cls)))
        amiss = _amiss(cls, data, as_in_file=source_of(info) is not None)
        if not amiss:
            return read(data)
        lines = [InitErrorDetails(type=error, loc=(), input=data) for error in amiss.values()]
        try:
            read({key: value for key, value in data.items() if key not in amiss})
        except ValidationError as error:
            lines += [
                _again(line)
                for line in error.errors(include_url=False)
                if line["type"] != "missing"
            ]
        raise ValidationError.from_exception_data(cls.__name__, lines)

    @classmethod
    def _as_table(cls, data: Any) -> Any:
        """The table that a shorter way of writing stands for."""
        return data

    @model_validator(mode="after")
    def _kind_is_told(self) -> Self:
        """The key that says which kind a part is counts as given: no dump may leave it out."""
        if "kind" in type(self).model_fields:
            self.model_fields_set.add("kind")
        return self


def _amiss(part: type[Part], data: dict[str, Any], *, as_in_file: bool) -> dict[str, Any]:
    """The errors of keys that a part does not know or has to have."""
    known, found = _keys_of(part), {}
    for key in data if part.model_config["extra"] == "forbid" else ():
        if key not in known and (as_in_file or key not in part.model_fields):
            found[key] = wrong(nearest_key(key, known), found="an unknown key", key=(key,))
    for name, field in part.model_fields.items():
        key = field.alias or name
        if field.is_required() and key not in data and name not in data:
            found[key] = wrong(_due(field), found="nothing", key=(key,))
    return found


def _again(line: ErrorDetails) -> InitErrorDetails:
    """A line of an error as it is made."""
    context = line.get("ctx", {})
    own = line["type"] == "lamp"
    kind = PydanticCustomError("lamp", "due {due}", context) if own else line["type"]
    return InitErrorDetails(type=kind, loc=line["loc"], input=line["input"], ctx=context)


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
