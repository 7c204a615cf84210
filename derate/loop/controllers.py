"""The controllers of units, as the kernels call them: at an address, each on memory of its own.

The reference C is called as it is, with settings that are data, and so are C of the user's own
(``own_c.py``) and a controller in Python that can be compiled. Any other body - a policy that
cannot, an emulated core - is called back in the interpreter, which takes some ten microseconds or
more for each step and one thread at a time.
"""

import ctypes
from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from derate.control.compiled_policy import (
    NotCompiledError,
    compiled_policy,
    not_compiled_because,
)
from derate.control.compiled_step import CompiledSteps
from derate.control.policy import KEY
from derate.errors import InputError
from derate.firmware.host import ALIGNMENT, LIMIT_SHIFT, HostBody
from derate.firmware.settings_memory import SettingsMemory
from derate.lamp.lamp import Lamp
from derate.loop.body import Body, body_for
from derate.sensing.chain import Chain, chains_of

Memory = NDArray[np.uint64]
STEP = ctypes.CFUNCTYPE(ctypes.c_uint32, *[ctypes.c_void_p] * 5)


class Controllers(Protocol):
    """The controllers of some units; lives as long as they run."""

    @property
    def step(self) -> int:
        """Address of what has the arguments and the answer of ``derate_step``."""

    def begun(self, firmware: Lamp) -> tuple[int, Memory]:
        """Address of the settings, and memory as after a reset, of one more unit."""

    def check(self) -> None:
        """Raises what a step has raised meanwhile."""


def interpreted_because(lamp: Lamp) -> str | None:
    """Why the controller of a lamp is called in the interpreter, None where it is not.

    Raises InputError for a real board, since there is one of it and not one for each unit.
    """
    if lamp.controller.serial_port is not None:
        found = f'{lamp.source or lamp.name}: controller.body: found "{lamp.controller.body}"'
        raise InputError(f'{found}, due "c": one board cannot stand for many units')
    if lamp.controller.body == "python":
        return not_compiled_because(lamp)
    if lamp.controller.body != "c":
        return f'controller.body is "{lamp.controller.body}"'
    return None


class Reference:
    """Our C on this machine: ``host`` is that of the nominal ``lamp``."""

    def __init__(self, lamp: Lamp, chains: tuple[Chain, ...], host: HostBody) -> None:
        self._lamp, self._chains, self._host = lamp, chains, host
        self._known: dict[int, tuple[Lamp, SettingsMemory, Memory]] = {}

    @property
    def step(self) -> int:
        """Address of ``derate_step``."""
        return self._host.function_address("derate_step")

    def begun(self, firmware: Lamp) -> tuple[int, Memory]:
        """Settings as the firmware holds them; its table is made anew only for other sensors.

        Raises InputError for a policy of another kind than all have.
        """
        if id(firmware) not in self._known:
            self._known[id(firmware)] = (firmware, *self._made(firmware))
        _, settings, memory = self._known[id(firmware)]
        return settings.address, memory.copy()

    def check(self) -> None:
        """Nothing is raised in C."""

    def _made(self, firmware: Lamp) -> tuple[SettingsMemory, Memory]:
        ours = self._lamp.controller
        title = firmware.source or firmware.name
        if firmware.controller.policy.kind != ours.policy.kind:
            found, due = f'"{firmware.controller.policy.kind}"', f'"{ours.policy.kind}" as all have'
            raise InputError(f"{title}: controller.policy.kind: found {found}, due {due}")
        same = firmware.sensors == self._lamp.sensors
        same = same and firmware.controller.cutoff_c == ours.cutoff_c
        settings = SettingsMemory(firmware, self._chains if same else chains_of(firmware))
        memory = np.zeros(self._host.memory_size // ALIGNMENT, np.uint64)
        self._host.library.derate_start(
            ctypes.c_void_p(settings.address), ctypes.c_void_p(memory.ctypes.data)
        )
        return settings, memory


class Compiled:
    """Controllers in Python, compiled, of the sensors of the nominal ``lamp``."""

    def __init__(self, lamp: Lamp, chains: tuple[Chain, ...]) -> None:
        self._lamp, self._chains, self._steps = lamp, chains, CompiledSteps()
        self._known: dict[int, tuple[Lamp, int]] = {}

    @property
    def step(self) -> int:
        """Address of the compiled step."""
        return self._steps.step

    def begun(self, firmware: Lamp) -> tuple[int, Memory]:
        """Settings as the firmware holds them; raises InputError for a policy of another kind."""
        if id(firmware) not in self._known:
            chains = self._chains
            if firmware.sensors != self._lamp.sensors:
                chains = chains_of(firmware)
            try:
                policy = compiled_policy(firmware)
            except NotCompiledError as error:
                raise InputError(f"{firmware.source or firmware.name}: {KEY}: {error}") from None
            self._known[id(firmware)] = firmware, self._steps.settings(firmware, chains, policy)
        settings = self._known[id(firmware)][1]
        return settings, self._steps.begun(settings)

    def check(self) -> None:
        """Raises in the interpreter's words what a policy did amiss."""
        self._steps.check()


class Interpreted:
    """Bodies called back: the memory of a unit holds the number of its body."""

    def __init__(self) -> None:
        self._bodies: list[Body] = []
        self._shapes: list[tuple[int, int]] = []
        self._failure: BaseException | None = None
        self._chains: dict[int, tuple[Lamp, tuple[Chain, ...]]] = {}
        self._callback = STEP(self._step)

    @property
    def step(self) -> int:
        """Address of the callback."""
        return ctypes.cast(self._callback, ctypes.c_void_p).value or 0

    def begun(self, firmware: Lamp) -> tuple[int, Memory]:
        """A body of its own for one more unit; raises InputError where there is none."""
        if id(firmware) not in self._chains:
            self._chains[id(firmware)] = firmware, chains_of(firmware)
        body = body_for(firmware, self._chains[id(firmware)][1])
        body.start()
        self._bodies.append(body)
        self._shapes.append((len(firmware.sensors), len(firmware.channels)))
        return 0, np.array([len(self._bodies) - 1], np.uint64)

    def check(self) -> None:
        """Raises what a body has raised: the interpreter cannot raise it through the kernel."""
        if self._failure is not None:
            raise self._failure

    def _step(self, _: int, memory: int, codes: int, requests: int, duties: int) -> int:
        if self._failure is not None:
            return 0
        number = ctypes.c_uint64.from_address(memory).value
        sensors, channels = self._shapes[number]
        try:
            command = self._bodies[number].step(_words(codes, sensors), _words(requests, channels))
        except BaseException as error:
            self._failure = error
            return 0
        (ctypes.c_uint16 * channels).from_address(duties)[:] = list(command.duties_q15)
        return command.limit_q15 << LIMIT_SHIFT | command.status


def _words(address: int, count: int) -> Sequence[int]:
    words: Sequence[int] = (ctypes.c_uint16 * count).from_address(address)[:]
    return words
