"""Bytes to and from a serial port, which may be unplugged and come back."""

import errno
import os
from contextlib import suppress
from typing import Any

from derate.errors import SurroundingsError
from derate.lamp.controller import SerialPort

NEEDED = "a real board needs the package pyserial: `pip install derate[serial]`"
ONLY_OURS = True if os.name == "posix" else None
"""Ask for the port alone; on Windows it always is."""
IN_USE = (errno.EAGAIN, errno.EBUSY)
PORT_FAILURES: tuple[type[Exception], ...] = (OSError, ValueError)
"""What a port raises that is not there, not ours or gone."""
try:
    import termios

    PORT_FAILURES = (*PORT_FAILURES, termios.error)
except ImportError:  # a system without terminals
    pass


class UnpluggedError(Exception):
    """The port has gone while it was in use."""


class Line:
    """A serial port, eight bits without parity, one stop bit.

    ``slice_s`` [s]: how long ``receive`` waits for a byte before it returns without one.
    """

    def __init__(self, place: SerialPort, slice_s: float) -> None:
        self.place, self._slice_s = place, slice_s
        self._port: Any = None

    def open(self) -> None:
        """Open the port afresh; raises SurroundingsError with the reason when that cannot be."""
        try:
            import serial
        except ImportError:
            raise SurroundingsError(NEEDED) from None
        self.close()
        try:
            self._port = serial.serial_for_url(
                self.place.port,
                self.place.baud,
                timeout=self._slice_s,
                write_timeout=self._slice_s,
                exclusive=ONLY_OURS,
            )
        except PORT_FAILURES as error:
            about = f"the port {self.place.port} of controller.body cannot be opened"
            raise SurroundingsError(f"{about}: {_reason(error)}") from None

    def send(self, data: bytes) -> None:
        """Send bytes; raises UnpluggedError when the port has gone."""
        if self._port is None:
            raise UnpluggedError
        try:
            self._port.write(data)
        except PORT_FAILURES as error:
            if not _is_slow(error):
                raise UnpluggedError from None

    def receive(self) -> bytes:
        """What has come, perhaps nothing; raises UnpluggedError when the port has gone."""
        if self._port is None:
            raise UnpluggedError
        try:
            return bytes(self._port.read(max(1, self._port.in_waiting)))
        except PORT_FAILURES:
            raise UnpluggedError from None

    def close(self) -> None:
        """Close the port if it is open."""
        if self._port is not None:
            with suppress(*PORT_FAILURES):  # it has gone already
                self._port.close()
            self._port = None


def _reason(error: Exception) -> str:
    """Why a port cannot be opened, in a few words."""
    number = getattr(error, "errno", None)
    if number in IN_USE:
        return "another program uses it"
    return os.strerror(number).lower() if isinstance(number, int) else str(error)


def _is_slow(error: Exception) -> bool:
    """Whether bytes could not be sent in time, which a frame sent again makes up for."""
    import serial

    return isinstance(error, serial.SerialTimeoutException)
