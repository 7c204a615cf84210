"""C of the user's own on the batch clock: called in C, through a relay, as quick as ours.

Its settings are compiled into it, so that the address of its step stands where units of our C have
that of their settings. Many units share one program and take turns: what it remembers must be in
the memory that it is given, and that is looked at before the first one runs.
"""

import ctypes
import threading
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from derate.control.command import Command
from derate.errors import FirmwareError
from derate.firmware import build
from derate.firmware.host import HostBody
from derate.firmware.walks import Inputs, random_walk
from derate.lamp.lamp import Lamp
from derate.sensing.chain import chains_of

Memory = NDArray[np.uint64]
RELAY = Path(build.__file__).parent / "relay.c"
LOOKED_AT = 400
"""Steps of a random walk by which hidden memory is looked for."""


class OwnC:
    """Controllers from C of the user's own; a step's settings are the address of its function.

    One serves all units, from any thread: what is looked at before C is called takes seconds.
    """

    def __init__(self) -> None:
        self._relay = ctypes.CDLL(str(build.build_library([RELAY], {})))
        self._known: dict[int, tuple[Lamp, HostBody, Memory]] = {}
        self._lock = threading.Lock()

    @property
    def step(self) -> int:
        """Address of the relay."""
        return ctypes.cast(self._relay.relay_step, ctypes.c_void_p).value or 0

    def begun(self, firmware: Lamp) -> tuple[int, Memory]:
        """The controller of a firmware, built where it was not; raises as ``HostBody`` does.

        Raises FirmwareError for C that remembers outside the memory of its unit.
        """
        with self._lock:
            if id(firmware) not in self._known:
                self._known[id(firmware)] = firmware, *_made(firmware)
            _, host, memory = self._known[id(firmware)]
        return host.function_address("controller_step"), memory.copy()

    def check(self) -> None:
        """Nothing is raised in C."""


def _made(firmware: Lamp) -> tuple[HostBody, Memory]:
    """A firmware's controller, and its memory as after a reset."""
    chains = chains_of(firmware)
    host, other = HostBody(firmware, chains), HostBody(firmware, chains)
    codes = 1 << max(sensor.adc.bits for sensor in firmware.sensors.values())
    walk = random_walk(len(firmware.sensors), len(firmware.channels), codes, rows=LOOKED_AT)
    if _answers(host, walk) != _answers(host, walk, other):
        raise FirmwareError(
            f"{firmware.source or firmware.name}: controller.c: found C that answers otherwise when"
            " two units take turns, due C that remembers only in the memory it is given"
        )
    host.start()
    begun = np.frombuffer(host.state.ljust(host.memory_size, b"\0"), np.uint64)
    return host, begun


def _answers(host: HostBody, walk: Inputs, other: HostBody | None = None) -> list[Command]:
    """What a controller answers to a walk, alone or with another one between its steps."""
    bodies = [host] if other is None else [host, other]
    for body in bodies:
        body.start()
    found = []
    for row in range(LOOKED_AT):
        found.append(host.step(walk.codes[row], walk.requests[row]))
        if other is not None:
            other.step(walk.codes[-1 - row], walk.requests[-1 - row])
    return found
