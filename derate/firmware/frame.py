"""Frames on the serial line between this machine and a real board.

A frame is two bytes that tell its kind, the second the complement of the first; its content, words
with the high byte first; and a CRC-16 over all before it (CRC-16/IBM-3740: polynomial 0x1021, from
0xFFFF, high bit first). How long a frame is follows from its kind and the lamp, so that none has to
say it, and one with damage within 16 bits never passes. ``firmware_ref/link.h`` lists the contents.
"""

import binascii
import struct
from collections.abc import Iterator, Sequence
from typing import NamedTuple

START, STEP, WELCOME, ANSWER = 0x35, 0x5C, 0xC9, 0x96
CHECK_START = 0xFFFF
LARGEST = 0xFFFF
"""The largest session and sequence; after it they begin again."""


class Welcome(NamedTuple):
    """What a board is: its session (0: not started) and last step, what it was built for."""

    session: int
    sequence: int
    identity: int
    sensors: int
    channels: int


class Answer(NamedTuple):
    """What a board's controller answered to a step; limit and duties in Q15."""

    session: int
    sequence: int
    limit_q15: int
    status: int
    duties_q15: tuple[int, ...]


def check_of(data: bytes) -> int:
    """The CRC-16 of bytes; of a whole frame, its own included, it is 0."""
    return binascii.crc_hqx(data, CHECK_START)


def start_frame(session: int) -> bytes:
    """Begin a session, or with 0 ask the board what it is."""
    return _framed(START, [session])


def step_frame(
    session: int, sequence: int, codes: Sequence[int], requests_q15: Sequence[int]
) -> bytes:
    """One control period."""
    return _framed(STEP, [session, sequence, *codes, *requests_q15])


def _framed(kind: int, words: Sequence[int]) -> bytes:
    frame = struct.pack(f">BB{len(words)}H", kind, kind ^ 0xFF, *words)
    return frame + check_of(frame).to_bytes(2, "big")


class Window:
    """Finds the frames of a board with so many channels in what comes, whatever comes between.

    ``received`` and ``framed``: bytes so far, and those of them that were part of a whole frame.
    """

    def __init__(self, channels: int) -> None:
        self._welcome = struct.Struct(">BBHHIBBH")
        self._answer = struct.Struct(f">BBHHHH{channels}HH")
        self._last = bytearray()
        self.received = self.framed = 0

    def feed(self, data: bytes) -> Iterator[Welcome | Answer]:
        """The frames that end within the next bytes."""
        for byte in data:
            self.received += 1
            self._last.append(byte)
            del self._last[: -max(self._welcome.size, self._answer.size)]
            if (words := self._ends_with(WELCOME, self._welcome)) is not None:
                yield Welcome(*words)
            elif (words := self._ends_with(ANSWER, self._answer)) is not None:
                session, sequence, limit_q15, status, *duties_q15 = words
                yield Answer(session, sequence, limit_q15, status, tuple(duties_q15))

    def _ends_with(self, kind: int, layout: struct.Struct) -> tuple[int, ...] | None:
        """The content of the frame of that kind which the last bytes are, None if they are none."""
        frame = self._last[-layout.size :]
        if len(frame) < layout.size or frame[0] != kind or frame[1] != kind ^ 0xFF:
            return None
        if check_of(bytes(frame)) != 0:
            return None
        self.framed += layout.size
        return layout.unpack(frame)[2:-1]
