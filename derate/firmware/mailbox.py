"""The memory that the driver on an emulated core shares with us.

``driver.c`` in ``on_target/`` reads ``struct driver_mail``: what to do, and where state, codes,
requests and duties of one step lie and those of many. Around each there is memory that nobody may
touch: pages that do not exist where the core has them, else bytes whose value is known. Codes and
requests may only be read: where the core has pages, the driver fills them through others.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.firmware.target import Target

SIZE, START, STEP, ROWS = range(4)
"""Tasks of the driver."""
PAINT = 0xA5
"""What memory holds that nobody has touched."""
POINTERS = (
    "state", "codes", "requests", "duties", "put_codes", "put_requests",
    "saved", "in_codes", "in_requests", "out_duties", "out_answers",
)  # fmt: skip
WORDS = ("task", "rows", "sensors", "channels", "size")
ONE_STEP = ("state", "codes", "requests", "duties")
INPUTS = {"codes": "put_codes", "requests": "put_requests"}
"""What a controller may only read, and the same memory as the driver fills it."""
SAID = {
    "state": "its state", "codes": "the codes", "requests": "the requests",
    "duties": "the duties", "stack": "the stack",
}  # fmt: skip


class Region(NamedTuple):
    """Memory from ``address`` on; its slack before and behind ends at ``low`` and ``high``."""

    name: str
    address: int
    size: int
    low: int
    high: int


@dataclass(frozen=True)
class Layout:
    """Where everything lies on a core, by name, and how many rows go at once."""

    regions: dict[str, Region]
    rows: int

    @property
    def guarded(self) -> tuple[Region, ...]:
        """What has slack around it that must stay as it was painted."""
        return tuple(self.regions[name] for name in ONE_STEP)

    def describe(self, address: int) -> str:
        """Where an address lies, in words, seen from the nearest region a controller may use."""
        named = [self.regions[name] for name in (*ONE_STEP, "stack")]
        for one in named:
            if one.address <= address < one.address + one.size:
                only = ", which may only be read" if one.name in INPUTS else ""
                return f"in {SAID[one.name]}{only}"
        past = min(named, key=lambda one: _distance(one, address))
        away = _distance(past, address)
        if away > NEAR:
            return f"at address {address:#x}, which is no memory of its own"
        if past.name == "stack" and address < past.address:
            return f"below the stack of {past.size} bytes: the stack has overflowed"
        where = "before the start" if address < past.address else "past the end"
        return f"{away} byte{'s' * (away > 1)} {where} of {SAID[past.name]} ({past.size} bytes)"


NEAR = 4096
"""Bytes from a region within which a stray access is told as one of it."""


def _distance(one: Region, address: int) -> int:
    return max(one.address - address, address - (one.address + one.size) + 1, 0)


def mail_type(target: Target) -> np.dtype:
    """``struct driver_mail`` as the target's compiler lays it."""
    pointer = f"<u{target.pointer_bytes}"
    fields = [("answer", "<u4"), *((name, pointer) for name in POINTERS)]
    return np.dtype([*fields, *((name, "<u2") for name in WORDS)])


def slack(view: NDArray[np.uint8], region: Region) -> int | None:
    """The first address in the slack of a region that was written to; None: none was."""
    before = np.flatnonzero(view[: region.address - region.low] != PAINT)
    if len(before):
        return int(region.low + before[-1])
    behind = np.flatnonzero(view[region.address + region.size - region.low :] != PAINT)
    return int(region.address + region.size + behind[0]) if len(behind) else None
