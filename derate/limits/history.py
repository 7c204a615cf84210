"""A history that a lamp may live through: pieces of constant requests and air, and faults.

It becomes a mission profile word by word as a file would say it, so that what is searched, what is
saved and what ``derate run`` replays are one and the same.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any

from derate.lamp.lamp import Lamp, validated
from derate.lamp.profile import Profile
from derate.lamp.quantities import Source

FULL = 1.0
OFF = 0.0


@dataclass(frozen=True)
class Piece:
    """Constant requests, one a channel [0..1], and airflow factor [-], for ``lasts_s`` [s]."""

    lasts_s: float
    requests: tuple[float, ...]
    airflow: float


@dataclass(frozen=True)
class Fault:
    """An event of a profile: its ``kind``, what it befalls, from when until when [s].

    ``subject``: name of the sensor, channel or link, empty for airflow; ``until_s``: None for
    ever; ``factor`` [-]: of an airflow or a resistance.
    """

    kind: str
    subject: str
    at_s: float
    until_s: float | None = None
    factor: float | None = None

    def keys(self) -> dict[str, object]:
        """The event as a profile file has it."""
        named = {"airflow": "", "interface degraded": "link", "channel stuck on": "channel"}
        subject = named.get(self.kind, "sensor")
        found: dict[str, object] = {"at": _seconds(self.at_s), "kind": self.kind}
        if self.until_s is not None:
            found["until"] = _seconds(self.until_s)
        if subject:
            found[subject] = self.subject
        if self.factor is not None:
            found["factor"] = self.factor
        return found


@dataclass(frozen=True)
class History:
    """Pieces one after the other, and the faults that befall the lamp meanwhile."""

    pieces: tuple[Piece, ...]
    faults: tuple[Fault, ...] = ()

    @property
    def duration_s(self) -> float:
        """How long it lasts [s]."""
        return round(sum(piece.lasts_s for piece in self.pieces), 9)

    @property
    def begins_s(self) -> tuple[float, ...]:
        """When each piece begins [s]."""
        return tuple(accumulate((piece.lasts_s for piece in self.pieces[:-1]), initial=0.0))

    def joined(self) -> "History":
        """The same with pieces alike made one, and none without length."""
        found: list[Piece] = []
        for piece in self.pieces:
            if piece.lasts_s <= 0.0:
                continue
            if found and replace(found[-1], lasts_s=piece.lasts_s) == piece:
                found[-1] = replace(piece, lasts_s=round(found[-1].lasts_s + piece.lasts_s, 9))
            else:
                found.append(piece)
        return replace(self, pieces=tuple(found))

    def until(self, end_s: float) -> "History":
        """Cut off at ``end_s`` [s]; faults that begin later are gone."""
        found, left_s = [], end_s
        for piece in self.pieces:
            if left_s <= 0.0:
                break
            found.append(replace(piece, lasts_s=min(piece.lasts_s, left_s)))
            left_s = round(left_s - piece.lasts_s, 9)
        cut = History(tuple(found)).duration_s
        faults = []
        for fault in self.faults:
            if fault.at_s < cut:
                over = fault.until_s is None or fault.until_s >= cut
                faults.append(replace(fault, until_s=None if over else fault.until_s))
        return History(tuple(found), tuple(faults))


def profile_keys(
    history: History, lamp: Lamp, ambient_c: Mapping[str, float], airflow: float = 1.0
) -> dict[str, Any]:
    """The keys of a profile file for a history.

    ``ambient_c`` [degC] of each ambient; ``airflow`` [-] multiplies that of every piece, as that of
    a unit does. Raises nothing: what is wrong with them is told when they are read.
    """
    values = list(dict.fromkeys(ambient_c.values()))
    each = {name: _celsius(value) for name, value in ambient_c.items()}
    keys: dict[str, Any] = {
        "duration": _seconds(history.duration_s),
        "ambient": _celsius(values[0]) if len(values) == 1 else each,
        "airflow": _course(history, [airflow * piece.airflow for piece in history.pieces]),
        "request": {
            name: _course(history, [piece.requests[i] for piece in history.pieces])
            for i, name in enumerate(lamp.channels)
        },
    }
    if history.faults:
        keys["events"] = [fault.keys() for fault in history.faults]
    return keys


def profile_from(keys: Mapping[str, Any]) -> Profile:
    """The profile of such keys; raises InputError like a profile file would."""
    return validated(Profile.model_validate, keys, Source(None), "history")


def _course(history: History, values: Sequence[float]) -> object:
    """A value that holds from piece to piece, written no longer than it must be."""
    at: list[str] = []
    kept: list[float] = []
    for begin_s, value in zip(history.begins_s, values, strict=True):
        if not kept or kept[-1] != value:
            at.append(_seconds(begin_s))
            kept.append(value)
    return kept[0] if len(kept) == 1 else {"at": at, "value": kept}


def _seconds(time_s: float) -> str:
    return f"{time_s:.9g} s"


def _celsius(value_c: float) -> str:
    return f"{value_c!r} degC"
