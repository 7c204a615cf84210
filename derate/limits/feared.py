"""Histories that a practitioner would fear, to begin a search with."""

from collections.abc import Iterator

from derate.limits.history import FULL, OFF, Fault, History, Piece
from derate.limits.space import Space

PAUSES = (0.004, 0.02, 0.06, 0.15, 0.4)
"""Pauses after the lamp was hot, as shares of its longest time constant."""
BEATS = (0.004, 0.02, 0.1)
"""Half periods of saw-teeth, likewise."""
SIMMERING = (0.3, 0.6)
"""Requests at which the lamp is left to warm before it is asked for full light."""
PART = (0.4, 0.55, 0.7, 0.85)
"""Requests at which a policy may not act at all, while a slow place goes on warming."""
MOST_ALONE = 4
"""Channels of which each is asked for alone."""
OPEN_LIKE = ("sensor open", "sensor short", "sensor stuck")
DEGRADED = 3.0
"""An interface whose resistance is so many times what it was."""


def feared(space: Space) -> Iterator[tuple[str, History]]:
    """The histories, each with its name; faults last, where the space has any."""
    full, dark = (FULL,) * space.channels, (OFF,) * space.channels
    least, most = space.airflow
    end_s, warm_s = space.duration_s, 0.6 * space.duration_s

    def history(*pieces: tuple[float, tuple[float, ...], float]) -> History:
        return History(tuple(Piece(space.whole(t), r, air) for t, r, air in pieces)).joined()

    yield "full from cold", full_from_cold(space)
    for share in PAUSES:
        pause_s = share * space.slowest_s
        rest_s = end_s - warm_s - min(pause_s, 0.3 * end_s)
        yield (
            "hot, off, full again",
            history((warm_s, full, least), (pause_s, dark, least), (rest_s, full, least)),
        )
    for share in BEATS:
        beat_s = space.whole(share * space.slowest_s)
        beats = min(12, max(1, int(0.4 * end_s / (2 * beat_s))))
        teeth = [(beat_s, dark, least), (beat_s, full, least)] * beats
        yield "saw-tooth", history((end_s - 2 * beats * beat_s, full, least), *teeth)
    for share in SIMMERING:
        low = (share,) * space.channels
        yield "warm, then full", history((warm_s, low, least), (end_s - warm_s, full, least))
    for share in PART:
        yield "part light for good", history((end_s, (share,) * space.channels, least))
    if least != most:
        still_s = end_s - warm_s
        yield "the air stops", history((warm_s, full, most), (still_s, full, least))
        blown = history((warm_s, full, least), (0.1 * still_s, full, most), (still_s, full, least))
        yield "a gust, then none", blown
    for i in range(space.channels if 1 < space.channels <= MOST_ALONE else 0):
        alone = tuple(FULL if i == j else OFF for j in range(space.channels))
        pieces = ((warm_s, alone, least), (end_s - warm_s, full, least))
        yield "one channel, then all", history(*pieces)
    for fault in faults_of(space, 0.0, None):
        yield f"{fault.kind} from the start", _with(history((end_s, full, least)), fault)
    for fault in faults_of(space, space.whole(warm_s), None):
        yield f"{fault.kind} when hot", _with(history((end_s, full, least)), fault)


def full_from_cold(space: Space) -> History:
    """All channels at full in the least air until the lamp has warmed through."""
    return History((Piece(space.duration_s, (FULL,) * space.channels, space.airflow[0]),))


def faults_of(space: Space, at_s: float, until_s: float | None) -> Iterator[Fault]:
    """Every fault of the space's kinds, in this stretch of time [s]."""
    lamp = space.lamp
    for kind in space.faults:
        if kind in OPEN_LIKE:
            yield from (Fault(kind, name, at_s, until_s) for name in lamp.sensors)
        elif kind == "channel stuck on":
            yield from (Fault(kind, name, at_s, until_s) for name in lamp.channels)
        elif kind == "interface degraded":
            yield from (
                Fault(kind, link.name, at_s, until_s, DEGRADED) for link in lamp.links if link.name
            )
        else:
            yield Fault(kind, "", at_s, until_s, 0.0)


def _with(history: History, fault: Fault) -> History:
    return History(history.pieces, (fault,))
