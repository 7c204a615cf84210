"""What a controller gives out each period: duties, the limit, and a status of flags.

The flags are those of firmware_ref/derate.h; a test compares the two.
"""

from typing import Any, NamedTuple

ONE_Q15 = 32768
"""1.0 as a Q15 share."""

CUTOFF = 0x0001
"""A reading is at or above the cut-off: the limit is 0."""
POLICY = 0x0002
"""The policy allows less than 1.0."""
RAMP = 0x0004
"""Hold or release keeps the limit below what is allowed."""
FAULT = 0x0008
"""The limit is at most the safe duty; the causes seen since the fault began follow."""
OPEN = 0x0010
SHORT = 0x0020
JUMP = 0x0040
DISAGREE = 0x0080
STUCK = 0x0100
SECOND = 0x0200
"""Open, short or jump was seen on the second sensor."""
REFUSED = 0x0400
"""The settings were refused at start: all duties are 0."""

CAUSES = {
    OPEN: "sensor open",
    SHORT: "sensor short",
    JUMP: "reading jumped",
    DISAGREE: "sensors disagree",
    STUCK: "reading stuck",
}


class Command(NamedTuple):
    """Duties and limit as Q15 shares (32768 = 1.0), status as the flags above."""

    duties_q15: tuple[int, ...]
    limit_q15: int
    status: int


def held_back(limit: Any, request: Any, status: Any) -> Any:
    """Whether light is held back: the limit [0..1] below the largest request, and no sensor fault.

    Of numbers or arrays; ``status``: whole numbers.
    """
    return (limit + 1.0 / ONE_Q15 < request) & (status & FAULT == 0)


def fault_name(status: int) -> str:
    """The causes of a fault in words, ``sensor open (second sensor)``; empty without a fault."""
    if status & REFUSED:
        return "settings refused"
    if not status & FAULT:
        return ""
    causes = ", ".join(name for flag, name in CAUSES.items() if status & flag)
    return causes + (" (second sensor)" if status & SECOND else "")
