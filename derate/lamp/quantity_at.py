"""The quantities that a key path of a lamp file leads to, with their values and units."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple, get_args

from pydantic.fields import FieldInfo

from derate.lamp.material import built_in_materials
from derate.lamp.part import Part
from derate.lamp.quantities import Unit
from derate.lamp.sentence import nearest, nearest_key

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp


class Quantity(NamedTuple):
    """One number of a lamp file: its key path, its value in ``unit``."""

    key: str
    value: float
    unit: Unit

    @property
    def text(self) -> str:
        """The value with its unit."""
        return f"{self.value:.4g} {self.unit.symbol}".rstrip()


def quantities_at(lamp: "Lamp", path: str) -> tuple[Quantity, ...]:
    """The quantity at ``path``, or every one of the list there, as ``Lamp.with_changes`` finds it.

    Raises LookupError, which says what is due, for a path that leads to anything else.
    """
    part: Any = lamp
    unit: Unit | None = None
    way: list[str] = []
    for step in path.split("."):
        if isinstance(part, Part):
            name = _field_of(part, step)
            unit = _unit_of(type(part).model_fields[name])
            part = getattr(part, name)
            if not way and step == "materials":
                part = {**built_in_materials(), **lamp.materials}
        elif part is None:
            raise LookupError(f"a part that this lamp has, and it has no {'.'.join(way)}")
        else:
            step, part = _entry(part, step)
        way.append(step)
    found = tuple(_numbers(".".join(way), part, unit)) if unit is not None else ()
    if not found:
        raise LookupError("a key to which the lamp file gives a quantity")
    return found


def _field_of(part: Part, step: str) -> str:
    """The field that is written as the key ``step``."""
    keys = {field.alias or name: name for name, field in type(part).model_fields.items()}
    if step not in keys:
        raise LookupError(f"in place of {step}: {nearest_key(step, keys)}")
    return keys[step]


def _entry(part: Any, step: str) -> tuple[str, Any]:
    """An entry of a table or list, with its name where it has one."""
    entries: dict[str, Any] = {}
    if isinstance(part, Mapping):
        entries = dict(part)
    elif isinstance(part, tuple):
        if step.isdigit() and int(step) < len(part):
            return getattr(part[int(step)], "name", None) or str(int(step)), part[int(step)]
        named = {getattr(entry, "name", None): entry for entry in part}
        entries = {name: entry for name, entry in named.items() if name}
    if step not in entries:
        raise LookupError(f"in place of {step}: {nearest(step, entries)}")
    return step, entries[step]


def _numbers(key: str, value: Any, unit: Unit) -> Iterator[Quantity]:
    if isinstance(value, float):
        yield Quantity(key, value, unit)
    for index, entry in enumerate(value if isinstance(value, tuple) else ()):
        yield from _numbers(f"{key}.{index}", entry, unit)


def _unit_of(field: FieldInfo) -> Unit | None:
    return next((mark for mark in field.metadata if isinstance(mark, Unit)), None) or _unit_within(
        field.annotation
    )


def _unit_within(annotation: Any) -> Unit | None:
    for argument in get_args(annotation):
        found = argument if isinstance(argument, Unit) else _unit_within(argument)
        if found is not None:
            return found
    return None
