"""What happened when: the profile's events, and what the controller made of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from derate.control import command
from derate.lamp.lamp import Lamp
from derate.lamp.limit import limit_words, limited_places
from derate.lamp.profile import Event, Profile
from derate.loop import merit
from derate.loop.cutout import Switching
from derate.loop.trace import Trace

Kind = Literal["profile", "fault", "cutout", "cutoff", "throttle", "limit"]
KINDS: tuple[Kind, ...] = get_args(Kind)
"""Of things at one instant, in this order: the cause before what came of it."""

MOST_MARKS = 3
"""More of the same than this become one mark that counts them."""


@dataclass(frozen=True)
class Happening:
    """Something worth a mark on the time axis."""

    at_s: float
    what: str
    kind: Kind


def happenings(
    lamp: Lamp, profile: Profile, trace: Trace, switchings: Sequence[Switching] = ()
) -> tuple[Happening, ...]:
    """Everything worth a mark, in order of time."""
    found = _of_profile(profile) + _of_status(trace) + _of_limits(lamp, trace)
    found += _of_cutouts(switchings)
    return tuple(sorted(found, key=lambda h: (h.at_s, KINDS.index(h.kind), h.what)))


def _of_profile(profile: Profile) -> list[Happening]:
    found = []
    for event in profile.events:
        found.append(Happening(event.at_s, describe(event), "profile"))
        if event.until_s is not None and event.until_s < profile.duration_s:
            found.append(Happening(event.until_s, f"{describe(event)} ends", "profile"))
    return found


def describe(event: Event) -> str:
    """An event in a few words."""
    match event.kind:
        case "airflow":
            return f"airflow x {event.factor:g}"
        case "interface degraded":
            return f"{event.link} x {event.factor:g}"
        case "channel stuck on":
            return f"{event.channel} stuck on"
        case "sensor loose":
            return f"{event.sensor} loose"
        case "sensor offset":
            return f"{event.sensor} off by {event.offset_k:+g} K"
        case _:
            return f"{event.sensor} {event.kind.removeprefix('sensor ')}"


def _of_status(trace: Trace) -> list[Happening]:
    status = trace["status"].astype(int)
    cutoff = status & command.CUTOFF != 0
    names = {
        row: command.fault_name(int(status[row]))
        for row, _ in merit.spells(status & command.FAULT != 0)
    }
    found = []
    for name in dict.fromkeys(names.values()):
        rows = [row for row in names if names[row] == name]
        found += _marks(trace, rows, f"fault seen: {name}", "fault")
    found += _marks(trace, [row for row, _ in merit.spells(cutoff)], "cut-off", "cutoff")
    held_back = merit.held_back_rows(trace)
    rows = [row for row, _ in merit.spells(held_back) if not cutoff[row]]
    return found + _marks(trace, rows, "light held back", "throttle")


def _of_cutouts(switchings: Sequence[Switching]) -> list[Happening]:
    found = []
    for name in dict.fromkeys(one.name for one in switchings):
        own = [one for one in switchings if one.name == name]
        times = sum(one.opened for one in own)
        if times > MOST_MARKS:
            what = f"cut-out {name} opens ({times} times)"
            found.append(Happening(own[0].at_s, what, "cutout"))
            continue
        for one in own:
            word = "opens" if one.opened else "closes"
            found.append(Happening(one.at_s, f"cut-out {name} {word}", "cutout"))
    return found


def _of_limits(lamp: Lamp, trace: Trace) -> list[Happening]:
    limited = [
        (f"junction {name}", trace.hottest(name), channel.junction_limit_c)
        for name, channel in lamp.channels.items()
    ]
    limited += [
        (limit_words(place.name), f"node_{place.name}_c", place.limit_c)
        for place in limited_places(lamp)
    ]
    found = []
    for thing, column, limit_c in limited:
        what = thing.replace("_", " ")
        rows = [row for row, _ in merit.spells(trace[column] > limit_c)]
        found += _marks(trace, rows, f"{what} over {limit_c:g} degC", "limit")
    return found


def _marks(trace: Trace, rows: list[int], what: str, kind: Kind) -> list[Happening]:
    """A mark for each row; where there are many, one at the first that counts them."""
    if len(rows) > MOST_MARKS:
        what, rows = f"{what} ({len(rows)} times)", rows[:1]
    return [Happening(float(trace["time_s"][row]), what, kind) for row in rows]
