"""Keys changed in a lamp file as it was parsed."""

import copy
from collections.abc import Mapping
from typing import Any

from derate.errors import InputError
from derate.lamp.sentence import Mistake, nearest, shown


def changed(raw: Mapping[str, Any], changes: Mapping[str, object], title: str) -> dict[str, Any]:
    """A copy of ``raw`` with the value at each key path of ``changes``; None takes a key away.

    Raises InputError, about the file ``title``, for a path that leads nowhere.
    """
    found = dict(copy.deepcopy(raw))
    for path, value in changes.items():
        _change(found, path, value, title)
    return found


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
