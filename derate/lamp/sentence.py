"""One clear sentence for each mistake in a lamp file: file, key, what was found, what is due."""

import datetime
import difflib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, NamedTuple

from pydantic import ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError

from derate.errors import printable

Key = tuple[str | int, ...]

_LONGEST_FOUND = 60
MOST_TOLD = 10
"""Of the mistakes in one file so many are told at once."""
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")

_DUE = {
    "string_type": "text in quotes",
    "tuple_type": "a list in [ ]",
    "dict_type": "a table of keys",
    "missing": "this key",
    "union_tag_not_found": "the key that says which kind this is",
}


def wrong(due: str, *, found: str | None = None, key: Key = ()) -> PydanticCustomError:
    """The error a validator raises.

    ``due`` says what would be right, ``found`` overrides the value as written in the file, ``key``
    leads from the part being validated to the key at fault.
    """
    context: dict[str, Any] = {"due": due, "key": key, "found": found}
    return _custom(context)


def _custom(context: dict[str, Any]) -> PydanticCustomError:
    return PydanticCustomError("lamp", "due {due}", context)


class Noted:
    """Mistakes that are looked for one by one and raised together."""

    def __init__(self) -> None:
        self._errors: list[PydanticCustomError] = []

    @contextmanager
    def one(self) -> Iterator[None]:
        """Whatever mistake is raised within is noted, and the search goes on behind it."""
        try:
            yield
        except PydanticCustomError as error:
            self._errors.append(error)
        except ValidationError as error:
            self._errors += [_custom(line["ctx"]) for line in error.errors()]

    def demand_none(self) -> None:
        """Raises what was noted, if anything was."""
        if self._errors:
            raise together(self._errors)


def together(errors: Iterable[PydanticCustomError]) -> ValidationError:
    """Several mistakes as one error, each with the key it names."""
    lines = [InitErrorDetails(type=error, loc=(), input=None) for error in errors]
    return ValidationError.from_exception_data("lamp", lines)


def nearest(name: object, known: Iterable[str]) -> str:
    """``one of a, b; nearest is "a"``, or the known names alone when none is near."""
    names = list(known)
    listed = ", ".join(names) if names else "none"
    close = difflib.get_close_matches(str(name), names, n=1, cutoff=0.6)
    return f'{listed}; nearest is "{close[0]}"' if close else listed


def demand_known(
    name: str, names: Iterable[str], what: str, key: Key, found: str | None = None
) -> None:
    """Raises unless ``name``, which stands at ``key``, is one of ``names``."""
    if name not in names:
        raise wrong(f"{what}: {nearest(name, names)}", key=key, found=found)


def nearest_key(key: str, known: Iterable[str]) -> str:
    """What is due instead of an unknown key: the nearest known one, or all known ones."""
    names = list(known)
    close = difflib.get_close_matches(key, names, n=1, cutoff=0.6)
    return f'"{close[0]}", the nearest known key' if close else "one of " + ", ".join(names)


def shown(value: object) -> str:
    """A value as the file would write it, cut to a length that leaves a readable sentence."""
    match value:
        case None:
            return "nothing"
        case Mapping():
            return "a table"
        case bool() | str():
            text = json.dumps(value, ensure_ascii=False)
        case list() | tuple():
            text = "[" + ", ".join(shown(entry) for entry in value) + "]"
        case datetime.date() | datetime.time():
            text = value.isoformat()
        case int() if abs(value) >= 10**_LONGEST_FOUND:
            return "an enormous number"
        case _:
            text = " ".join(str(value).split())
    return text if len(text) <= _LONGEST_FOUND else text[: _LONGEST_FOUND - 3] + "..."


def written(key: Key) -> str:
    """A key path as text: ``links[entry 2].resistance``, counting entries from one."""
    text = ""
    for step in key:
        if isinstance(step, int):
            text += f"[entry {step + 1}]"
        else:
            name = step if _BARE_KEY.fullmatch(step) else json.dumps(step, ensure_ascii=False)
            text += f".{name}" if text else name
    return text


class Mistake(NamedTuple):
    """What is wrong at one key."""

    key: Key
    found: str
    due: str

    def sentence(self, file: str, *, more: int = 0) -> str:
        """The one sentence for the user; ``more`` counts the mistakes not told."""
        place = f"{written(self.key)}: " if self.key else ""
        rest = f" (and {more} more)" if more else ""
        text = f"{file}: {place}found {self.found}, due {self.due}{rest}"
        return printable(text)


def mistakes(error: ValidationError | PydanticCustomError, raw: object) -> list[Mistake]:
    """The mistakes in ``raw`` (the parsed file), one for each key at fault, in its order."""
    if isinstance(error, PydanticCustomError):
        return [_mistake((), error.context or {}, raw, None)]
    listed = [
        _mistake(
            entry["loc"],
            {"due": _due(entry["type"], entry.get("ctx", {}))} | dict(entry.get("ctx", {})),
            raw,
            entry["input"],
        )
        for entry in error.errors(include_url=False)
    ]
    first = {mistake.key: mistake for mistake in reversed(listed)}
    return sorted(reversed(first.values()), key=lambda mistake: _order(mistake.key, raw))


def told(listed: list[Mistake], file: str) -> list[str]:
    """A sentence for each mistake, of many the first ones."""
    *before, last = listed[:MOST_TOLD]
    sentences = [mistake.sentence(file) for mistake in before]
    return [*sentences, last.sentence(file, more=max(len(listed) - MOST_TOLD, 0))]


def _order(key: Key, raw: Any) -> tuple[int, ...]:
    """Where a key stands in the file, table by table; what is missing, behind all that is there."""
    places = []
    for step in key:
        entries = list(range(len(raw))) if isinstance(raw, list | tuple) else list(raw or ())
        there = step in entries
        places.append(entries.index(step) if there else len(entries))
        raw = raw[step] if there else None
        if not isinstance(raw, Mapping | list | tuple):
            break
    return tuple(places)


def _mistake(loc: Key, context: Mapping[str, Any], raw: object, given: object) -> Mistake:
    place = _place(loc, raw) + tuple(context.get("key", ()))
    found = context.get("found")
    if found is None:
        found = shown(_at(place, raw, given if loc and loc[-1] != "[key]" else None))
        if loc and loc[-1] == "[key]":
            found = f"the name {shown(given)}"
    return Mistake(place, found, context["due"])


def _due(kind: str, context: Mapping[str, Any]) -> str:
    if kind == "literal_error":
        return "one of " + str(context["expected"]).replace("'", '"').replace(" or ", ", ")
    return _DUE.get(kind, "something else here")


def _place(loc: Key, raw: object) -> Key:
    """The part of pydantic's location that stands in the file (it adds names of its own)."""
    place: Key = ()
    for step in loc:
        entries = dict(enumerate(raw)) if isinstance(raw, list | tuple) else raw
        if isinstance(entries, Mapping) and step in entries:
            raw = entries[step]
            place += (step,)
    return place


def _at(key: Key, raw: Any, otherwise: object) -> object:
    for step in key:
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            return otherwise
    return raw
