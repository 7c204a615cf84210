"""The AVR core, emulated by the library simavr through a small C file of ours.

An AVR has no pages: around state, codes, requests and duties, and below the stack, lie bytes of
known value that are looked at after every batch.
"""

import ctypes
import ctypes.util
from typing import Any

import numpy as np
from numpy.typing import NDArray

from derate.errors import FirmwareError, SurroundingsError
from derate.firmware.build import build_library
from derate.firmware.image import Image
from derate.firmware.mailbox import INPUTS, PAINT, Layout, Region
from derate.firmware.processor import Count, Processor, regions_in_a_row
from derate.firmware.target import Target
from derate.firmware.target_build import ON_TARGET

MCU = b"atmega1284p"
RAM_BYTES = 0x4100
"""Registers, input and output, and 16 KiB of RAM."""
RAM_FLAG = 0x0080_0000
"""What the linker adds to addresses of RAM to tell them from those of flash."""
STACK_BYTES = 1024
SLACK_BYTES = 32
MOST_ROWS = 256
MOST_INSTRUCTIONS = 50_000_000
"""Of one batch; a controller that takes more never returns."""
FLAGS = ("-std=gnu99", "-O2", "-fPIC", "-shared")
ENDINGS = {1: "crashed the core", 2: "never returned"}


class _Run(ctypes.Structure):
    """``struct avr_run``."""

    _fields_ = (
        *((name, ctypes.c_void_p) for name in ("avr", "row_instructions", "row_cycles")),
        *((name, ctypes.c_uint64) for name in ("cycles_before", "most")),
        *(
            (name, ctypes.c_uint32)
            for name in (
                "driver_at", "driver_end", "entry", "rows", "row", "entry_stack", "lowest",
            )
        ),
    )  # fmt: skip


class SimavrProcessor(Processor):
    """A controller on an ATmega."""

    def __init__(self, target: Target, image: Image, sensors: int, channels: int) -> None:
        self._library = _library()
        self._avr = self._library.run_made(MCU)
        if not self._avr:
            raise SurroundingsError(f"the simavr library has no {MCU.decode()}")
        self._memory = _array(self._library.run_memory(self._avr), RAM_BYTES)
        for section in image.sections:
            if section.content and section.address < RAM_FLAG:
                flash = _array(self._library.run_flash(self._avr), section.address + section.size)
                flash[section.address :] = np.frombuffer(section.content, np.uint8)
        driver = image.section(".driver")
        self._run = _Run(self._avr, most=MOST_INSTRUCTIONS)
        self._run.driver_at, self._run.driver_end = driver.address, driver.address + driver.size
        self._run.entry = image.symbols["controller_step"]
        self._count: Count | None = None
        super().__init__(target, image, sensors, channels)

    def view(self, address: int, size: int) -> NDArray[np.uint8]:
        """The core's RAM there."""
        start = address & ~RAM_FLAG
        return self._memory[start : start + size]

    def _lay(self, state_size: int) -> Layout:
        mail = self.image.section(".mail")
        start = -(-((mail.address & ~RAM_FLAG) + mail.size) // 4) * 4
        one_step = {
            "state": state_size,
            "codes": 2 * self.sensors,
            "requests": 2 * self.channels,
            "duties": 2 * self.channels,
        }
        regions, at = regions_in_a_row(one_step, start, slack_bytes=SLACK_BYTES)
        low = RAM_BYTES - STACK_BYTES - SLACK_BYTES
        regions["stack"] = Region("stack", low + SLACK_BYTES, STACK_BYTES, low, RAM_BYTES)
        row_bytes = 2 * self.sensors + 4 * self.channels + 4
        rows = min((low - at - state_size - 16) // row_bytes, MOST_ROWS)
        if rows < 1:
            raise FirmwareError(
                f"on {self.target.name}, static variables and a state of {state_size} bytes leave"
                f" no room in the RAM of {RAM_BYTES - 0x100} bytes"
            )
        many = {
            "saved": state_size,
            "in_codes": 2 * self.sensors * rows,
            "in_requests": 2 * self.channels * rows,
            "out_duties": 2 * self.channels * rows,
            "out_answers": 4 * rows,
        }
        more, _ = regions_in_a_row(many, at, slack_bytes=0)
        self._memory[start:] = PAINT
        more |= {put: regions[name] for name, put in INPUTS.items()}
        return Layout({**regions, **more}, rows)

    def _go(self) -> None:
        run, library = self._run, self._library
        ended = library.run_until(ctypes.byref(run), self._go_at, self._done_at, RAM_BYTES - 1)
        if ended:
            at = library.run_address(self._avr)
            raise FirmwareError(f"{self._who(at)} {ENDINGS[ended]}")

    def count(self, rows: int) -> Count:
        """Count instructions and cycles of each step from here on."""
        self._count = Count(np.zeros(rows, np.uint32), np.zeros(rows, np.uint32))
        self._run.row_instructions, self._run.row_cycles = (a.ctypes.data for a in self._count)
        self._run.rows, self._run.row = rows, 0
        return self._count

    def count_no_more(self) -> None:
        """Count no further steps."""
        self._run.rows, self._count = 0, None

    def paint_stack(self) -> None:
        """Forget how deep the stack has been."""
        super().paint_stack()
        self._run.lowest = RAM_BYTES

    @property
    def stack_used(self) -> int:
        """Bytes of stack that the controller took at most, its return address among them."""
        return max(int(self._run.entry_stack) + self._address_bytes - int(self._run.lowest), 0)

    _address_bytes = 2
    """Of a return address on the stack."""


def _library() -> Any:
    """Our C file bound to simavr; raises SurroundingsError when that cannot be."""
    name = ctypes.util.find_library("simavr")
    try:
        ctypes.CDLL(name, mode=ctypes.RTLD_GLOBAL)
    except (OSError, TypeError) as error:
        raise SurroundingsError(f"the simavr library cannot be loaded: {error}") from None
    built = build_library([ON_TARGET / "simavr_run.c"], {}, flags=FLAGS)
    library = ctypes.CDLL(str(built))
    for function in ("run_made", "run_memory", "run_flash"):
        getattr(library, function).restype = ctypes.c_void_p
        getattr(library, function).argtypes = [ctypes.c_void_p]
    library.run_made.argtypes = [ctypes.c_char_p]
    library.run_address.argtypes = [ctypes.c_void_p]
    library.run_until.argtypes = [ctypes.c_void_p] + [ctypes.c_uint32] * 3
    return library


def _array(address: int, size: int) -> NDArray[np.uint8]:
    return np.ctypeslib.as_array((ctypes.c_uint8 * size).from_address(address))
