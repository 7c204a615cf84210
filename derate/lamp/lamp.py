"""Lamp: everything that is known of one light source, its firmware settings and its missions."""

import copy
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Annotated, Any, Self, TypeVar

from pydantic import AfterValidator, Field, PrivateAttr, ValidationError, model_validator

from derate.errors import InputError
from derate.lamp.agreement import check_lamp
from derate.lamp.channel import Channel
from derate.lamp.controller import Controller
from derate.lamp.driver import Driver, Timing
from derate.lamp.emitter import Emitter
from derate.lamp.network import Link, Node
from derate.lamp.part import Name, Part, Text
from derate.lamp.profile import Profile
from derate.lamp.quantities import Source, check
from derate.lamp.sensor import Sensor
from derate.lamp.sentence import Mistake, mistakes, nearest, shown

M = TypeVar("M")


def _at_least_one(what: str) -> AfterValidator:
    return check(lambda parts: len(parts) >= 1, f"at least one {what}")


class Title(Part):
    """What the lamp is called."""

    name: Text = Field(description="the name of the lamp, text in quotes")
    note: Text = ""


class Lamp(Part):
    """One lamp; every name in it is checked against what it refers to."""

    title: Title = Field(alias="lamp", description="a table [lamp] with the name of the lamp")
    emitters: Annotated[dict[Name, Emitter], _at_least_one("emitter")] = Field(
        description="at least one table [emitters.NAME]"
    )
    channels: Annotated[dict[Name, Channel], _at_least_one("channel")] = Field(
        description="at least one table [channels.NAME]"
    )
    ambients: Annotated[tuple[Name, ...], _at_least_one("ambient")] = ("ambient",)
    nodes: Annotated[dict[Name, Node], _at_least_one("node")] = Field(
        description="at least one table [nodes.NAME]"
    )
    links: tuple[Link, ...] = Field(description="at least one table [[links]]")
    sensors: Annotated[
        dict[Name, Sensor], check(lambda sensors: len(sensors) in (1, 2), "one or two sensors")
    ] = Field(description="one or two tables [sensors.NAME]")
    driver: Driver = Driver()
    timing: Timing = Timing()
    controller: Controller = Field(description="a table [controller]")
    profiles: dict[Name, Profile] = Field(default_factory=dict)

    _source: Path | None = PrivateAttr(default=None)
    _sha256: str = PrivateAttr(default="")
    _text: str = PrivateAttr(default="")
    _raw: dict[str, Any] | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        check_lamp(self)
        return self

    @property
    def name(self) -> str:
        """What the lamp is called."""
        return self.title.name

    @property
    def source(self) -> Path | None:
        """The file this lamp was read from, None for one built in Python."""
        return self._source

    @property
    def sha256(self) -> str:
        """Hash of the bytes of that file, empty for one built in Python."""
        return self._sha256

    @property
    def text(self) -> str:
        """That file as it was read, empty for a lamp built or changed in Python."""
        return self._text

    def with_changes(self, changes: Mapping[str, object]) -> "Lamp":
        """A lamp with some keys changed, checked anew.

        ``changes`` maps key paths as in the file ("controller.policy.hysteresis",
        "links.0.resistance", or a link by its name) to a quantity as text or a number in the unit
        of the field; None takes a key away. Raises InputError like a lamp file would.
        """
        raw = copy.deepcopy(self._raw if self._raw is not None else _written_out(self))
        title = self._source.name if self._source else self.name
        for path, value in changes.items():
            _change(raw, path, value, title)
        folder = self._source.parent if self._source else None
        lamp = validated(Lamp.model_validate, raw, Source(folder, numbers=True), title)
        lamp._source, lamp._sha256, lamp._raw = self._source, self._sha256, raw
        return lamp


def validated(validate: Callable[..., M], raw: Any, source: Source, title: str) -> M:
    """The model of ``raw``, or one sentence (InputError) about the first mistake in it."""
    try:
        return validate(raw, context=source)
    except ValidationError as error:
        first, *more = mistakes(error, raw)
        raise InputError(first.sentence(title, more=len(more))) from None


def _written_out(lamp: Lamp) -> dict[str, Any]:
    return lamp.model_dump(mode="json", by_alias=True, exclude_unset=True)


def _change(raw: Any, path: str, value: object, title: str) -> None:
    *way, last = path.split(".")
    for step in way:
        raw = _step(raw, step, path, title)
    if isinstance(raw, dict) and value is None:
        raw.pop(last, None)
    elif isinstance(raw, dict):
        raw[last] = value
    elif isinstance(raw, list) and last.isdigit() and int(last) < len(raw):
        raw[int(last)] = value
    else:
        raise InputError(Mistake((path,), shown(raw), "a key within a table").sentence(title))


def _step(raw: Any, step: str, path: str, title: str) -> Any:
    if isinstance(raw, dict):
        return raw.setdefault(step, {})
    if isinstance(raw, list | tuple):
        if step.isdigit() and int(step) < len(raw):
            return raw[int(step)]
        named = {entry.get("name"): entry for entry in raw if isinstance(entry, dict)}
        if step in named:
            return named[step]
        due = "the number or name of an entry: " + nearest(step, filter(None, named))
        raise InputError(Mistake((path,), shown(step), due).sentence(title))
    raise InputError(Mistake((path,), shown(raw), f'a table that holds "{step}"').sentence(title))
