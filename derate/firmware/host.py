"""The reference C controller, compiled for this machine and called in this process."""

import ctypes
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from derate.control.command import Command
from derate.errors import FirmwareError, SurroundingsError
from derate.firmware.build import build_library
from derate.firmware.sources import Sources, sources_of
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain, chains_of

Codes = Sequence[int] | NDArray[np.uint16]

STATUS_MASK = 0xFFFF
LIMIT_SHIFT = 16
ALIGNMENT = 8
ROWS_LOOKED_AT = 2000


def library_of(lamp: Lamp, chains: Sequence[Chain]) -> Path:
    """The compiled controller of a lamp, from the cache when it was built before."""
    sources = sources_of(lamp, chains)  # refuses what the C cannot hold before any compiler runs
    if sources.own:
        _look_at(lamp, chains, sources)
    return build_library(sources.files, sources.headers, key_text=sources.key_text)


class HostBody:
    """The C controller of ``lamp``; ``start`` and ``step`` as in PythonBody, a few us a step.

    Raises InputError when a setting cannot be held by the C, SurroundingsError without a compiler.
    ``library``: a shared library with the functions of controller.h to use instead of our own.
    Ours also exports derate_start and derate_step, which take the settings as an argument: a
    search over settings can hand its own struct to them and need not compile each candidate.
    """

    def __init__(
        self, lamp: Lamp, chains: Sequence[Chain] | None = None, *, library: Path | None = None
    ) -> None:
        chains = chains_of(lamp) if chains is None else chains
        self.library = _loaded(library) if library else _own(lamp, chains)
        self.state_size = _declared(self.library, "controller_size", ctypes.c_uint16)()
        self._start = _declared(self.library, "controller_start", None, 1)
        self._step = _declared(self.library, "controller_step", ctypes.c_uint32, 4)
        self._memory = np.zeros(-(-self.state_size // ALIGNMENT), np.uint64)
        self.channels = len(lamp.channels)
        self._codes = np.zeros(len(lamp.sensors), np.uint16)
        self._requests = np.zeros(len(lamp.channels), np.uint16)
        self._duties = np.zeros(len(lamp.channels), np.uint16)
        self._arguments = tuple(
            ctypes.c_void_p(array.ctypes.data)
            for array in (self._memory, self._codes, self._requests, self._duties)
        )
        self.start()

    def start(self) -> None:
        """Begin as after a reset."""
        self._start(self._arguments[0])

    def step(self, codes: Codes, requests_q15: Codes) -> Command:
        """One control period: codes (one a sensor) and requests (Q15, one a channel) to duties."""
        if len(codes) != len(self._codes) or len(requests_q15) != len(self._requests):
            raise ValueError(f"due {len(self._codes)} codes and {len(self._requests)} requests")
        self._codes[:] = codes
        self._requests[:] = requests_q15
        answer = self._step(*self._arguments)
        return Command(tuple(self._duties.tolist()), answer >> LIMIT_SHIFT, answer & STATUS_MASK)

    @property
    def memory_size(self) -> int:
        """Bytes of ``state``, filled up to whole words."""
        return self._memory.nbytes

    @property
    def state(self) -> bytes:
        """All memory of the controller, as it lies; set it to go on from an earlier state."""
        return self._memory.tobytes()[: self.state_size]

    @state.setter
    def state(self, memory: bytes) -> None:
        """Go on from an earlier state."""
        if len(memory) != self.state_size:
            raise ValueError(f"due {self.state_size} bytes of state, found {len(memory)}")
        self._memory.view(np.uint8)[: self.state_size] = np.frombuffer(memory, np.uint8)

    def function_address(self, name: str) -> int:
        """The address of an exported C function such as "controller_step"."""
        return ctypes.cast(getattr(self.library, name), ctypes.c_void_p).value or 0


def _own(lamp: Lamp, chains: Sequence[Chain]) -> ctypes.CDLL:
    """Our controller of a lamp; built anew when the one in the cache is spoilt."""
    library = library_of(lamp, chains)
    try:
        return _loaded(library)
    except SurroundingsError:
        library.unlink(missing_ok=True)
    return _loaded(library_of(lamp, chains))


def _look_at(lamp: Lamp, chains: Sequence[Chain], sources: Sources) -> None:
    """Let sanitizers look at the user's C in another process, for here nothing guards memory.

    Raises FirmwareError with what they say; where the compiler has none, the C is trusted.
    """
    from derate.firmware.sanitized import complaint
    from derate.firmware.walks import random_walk

    codes = 1 << max(chain.sensor.adc.bits for chain in chains)
    walk = random_walk(len(lamp.sensors), len(lamp.channels), codes, rows=ROWS_LOOKED_AT)
    try:
        said = complaint(sources, walk)
    except SurroundingsError:
        return
    if said is not None:
        raise FirmwareError(said)


def _loaded(library: Path) -> ctypes.CDLL:
    try:
        return ctypes.CDLL(str(library))
    except OSError as error:
        raise SurroundingsError(f"the compiled controller cannot be loaded: {error}") from None


def _declared(library: ctypes.CDLL, name: str, result: type | None, pointers: int = 0) -> Any:
    function = getattr(library, name)
    function.restype = result
    function.argtypes = [ctypes.c_void_p] * pointers
    return function
