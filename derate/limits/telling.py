"""A history as a person would tell it: ambient, what is asked for how long, what befalls."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

from derate.lamp.duration import duration
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event, Profile
from derate.limits.history import FULL, OFF, Fault, History, Piece

ONCE_MORE = 2
"""A stretch that comes so often in a row, or more, is told once."""


def lived(
    history: History,
    ambient_c: Mapping[str, float],
    channels: Sequence[str],
    *,
    unit: str = "",
    air: bool = True,
) -> str:
    """What a lamp lives through, in one line.

    ``ambient_c`` [degC]: of each ambient; ``unit``: which one, if not the nominal lamp; ``air``:
    whether the airflow is worth a word.
    """
    if len(set(ambient_c.values())) == 1:
        parts = [f"ambient {next(iter(ambient_c.values())):.3g} degC"]
    else:
        parts = [f"{name} {at_c:.3g} degC" for name, at_c in ambient_c.items()]
    if unit:
        parts.append(unit)
    return ", ".join(parts + history_words(history, channels, air=air))


def history_words(history: History, channels: Sequence[str], *, air: bool) -> list[str]:
    """A history piece by piece, "12 min at full", "40 s off", the last one without its length.

    ``air``: whether the airflow is worth a word.
    """
    found: list[str] = []
    flows = [piece.airflow for piece in history.pieces]
    if air and len(set(flows)) == 1:
        found.append(f"airflow {flows[0]:.3g}")
    for i, piece in enumerate(history.pieces):
        words = _asked(piece, channels)
        if air and len(set(flows)) > 1 and (i == 0 or flows[i - 1] != piece.airflow):
            words += f" in airflow {piece.airflow:.3g}"
        last = i == len(history.pieces) - 1
        if not last:
            at = "" if words.startswith("off") else "at "
            words = f"{duration(piece.lasts_s)} {at}{words}"
        found.append(words)
    return _once(found) + [_fault(fault) for fault in history.faults]


def _once(words: list[str]) -> list[str]:
    """Two that take turns are told once, with how often."""
    found: list[str] = []
    i = 0
    while i < len(words):
        pair = words[i : i + 2]
        times = 1
        while words[i + 2 * times : i + 2 * times + 2] == pair and len(pair) == 2:
            times += 1
        if times >= ONCE_MORE:
            found.append(f"{times} times {pair[0]} and {pair[1]}")
            i += 2 * times
        else:
            found.append(words[i])
            i += 1
    return found


def _asked(piece: Piece, channels: Sequence[str]) -> str:
    """The requests of a piece."""
    if len(set(piece.requests)) == 1:
        return _level(piece.requests[0])
    named = zip(channels, piece.requests, strict=True)
    lit = [f"{name} {_level(request)}" for name, request in named if request != OFF]
    return " and ".join(lit)


def _level(request: float) -> str:
    if request == FULL:
        return "full"
    return "off" if request == OFF else f"{100 * request:.3g} %"


def _fault(fault: Fault) -> str:
    """What befalls the lamp, and when."""
    words = f"{fault.kind} ({fault.subject})" if fault.subject else "air stopped"
    if fault.kind == "interface degraded":
        words = f"{fault.subject} {fault.factor:g} times its resistance"
    when = "from the start" if fault.at_s == 0.0 else f"from {duration(fault.at_s)} on"
    if fault.until_s is not None:
        when = f"from {duration(fault.at_s)} to {duration(fault.until_s)}"
    return f"{words} {when}"


def told(profile: Profile, lamp: Lamp) -> str:
    """What a lamp lives through in a profile, in one line; only for how long, of one with ramps."""
    history = history_of(profile, lamp)
    if history is None:
        return f"a profile of {duration(profile.duration_s)}"
    air = any(link.airflow for link in lamp.links) or bool(lamp.surfaces)
    courses = profile.ambient_courses(lamp.ambients)
    ambient_c = {name: course.knots[0] for name, course in courses.items()}
    return lived(history, ambient_c, tuple(lamp.channels), air=air)


def history_of(profile: Profile, lamp: Lamp) -> History | None:
    """The history of a profile; None for one with ramps, rounds or changing ambients."""
    courses = [profile.airflow, *profile.request.values()]
    ambients = profile.ambient_courses(lamp.ambients).values()
    steady = all(len(course.knots) == 1 for course in ambients)
    if not steady or any(c.every_s or (c.between == "line" and len(c.knots) > 1) for c in courses):
        return None
    until_s = profile.duration_s
    begins = sorted({at_s for course in courses for at_s in course.at_s if at_s < until_s})
    asked = [profile.request.get(name) for name in lamp.channels]
    pieces = tuple(
        Piece(
            round(end_s - begin_s, 9),
            tuple(OFF if course is None else course.value(begin_s) for course in asked),
            profile.airflow.value(begin_s),
        )
        for begin_s, end_s in pairwise([*begins, until_s])
    )
    return History(pieces, tuple(map(_befalling, profile.events)))


def _befalling(event: Event) -> Fault:
    subject = event.sensor or event.channel or event.link or ""
    return Fault(event.kind, subject, event.at_s, event.until_s, event.factor)
