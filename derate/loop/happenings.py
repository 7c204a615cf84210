"""What happened when: the profile's events, and what the controller made of them."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from derate.control import command
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event, Profile
from derate.loop import merit
from derate.loop.trace import Trace

Kind = Literal["profile", "fault", "cutoff", "throttle", "limit"]

QUIET_S = 20.0
"""Light held back again within this time counts as the same happening."""


@dataclass(frozen=True)
class Happening:
    """Something worth a mark on the time axis."""

    at_s: float
    what: str
    kind: Kind


def happenings(lamp: Lamp, profile: Profile, trace: Trace) -> tuple[Happening, ...]:
    """Everything worth a mark, in order of time."""
    found = _of_profile(profile) + _of_status(trace) + _of_limits(lamp, trace)
    return tuple(sorted(found, key=lambda h: (h.at_s, h.what)))


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
        case "sensor offset":
            return f"{event.sensor} off by {event.offset_k:+g} K"
        case _:
            return f"{event.sensor} {event.kind.removeprefix('sensor ')}"


def _of_status(trace: Trace) -> list[Happening]:
    status = trace["status"].astype(int)
    time_s = trace["time_s"]
    found = [
        Happening(at_s, f"fault seen: {command.fault_name(int(status[row]))}", "fault")
        for row, at_s in _begins(status & command.FAULT != 0, time_s)
    ]
    found += [
        Happening(at_s, "cut-off", "cutoff")
        for _, at_s in _begins(status & command.CUTOFF != 0, time_s, QUIET_S)
    ]
    held_back = merit.held_back_rows(trace) & (status & (command.FAULT | command.CUTOFF) == 0)
    found += [
        Happening(at_s, "light held back", "throttle")
        for _, at_s in _begins(held_back, time_s, QUIET_S)
    ]
    return found


def _of_limits(lamp: Lamp, trace: Trace) -> list[Happening]:
    columns = {f"junction_{name}_c": c.junction_limit_c for name, c in lamp.channels.items()}
    columns |= {
        f"node_{name}_c": node.limit_c
        for name, node in lamp.nodes.items()
        if node.limit_c is not None
    }
    found = []
    for column, limit_c in columns.items():
        what = column.removesuffix("_c").removeprefix("node_").replace("_", " ")
        over = trace[column] > limit_c
        found += [
            Happening(at_s, f"{what} over {limit_c:g} degC", "limit")
            for _, at_s in _begins(over, trace["time_s"], QUIET_S)
        ]
    return found


def _begins(
    holds: NDArray[np.bool_], time_s: NDArray[np.float64], quiet_s: float = 0.0
) -> list[tuple[int, float]]:
    """Rows and times at which a condition begins, after having been absent for ``quiet_s``."""
    found: list[tuple[int, float]] = []
    last_s = -np.inf
    edges = np.flatnonzero(holds & ~np.concatenate(([False], holds[:-1])))
    for row in edges:
        ends = np.flatnonzero(~holds[row:])
        if time_s[row] - last_s > quiet_s:
            found.append((int(row), float(time_s[row])))
        last_s = time_s[row + ends[0]] if len(ends) else np.inf
    return found
