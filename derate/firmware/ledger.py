"""Counting what each step of an emulated controller takes, by a function of ``ledger.c``."""

import ctypes

import numpy as np

from derate.firmware.build import build_library
from derate.firmware.image import Image
from derate.firmware.processor import Count
from derate.firmware.target import THUMB, Target
from derate.firmware.target_build import ON_TARGET
from derate.firmware.timing_riscv import riscv_cycles
from derate.firmware.timing_thumb import thumb_cycles


class _Record(ctypes.Structure):
    """``struct ledger``."""

    _fields_ = (
        *((name, ctypes.c_void_p) for name in ("cycles", "taken", "row_instructions")),
        ("row_cycles", ctypes.c_void_p),
        *((name, ctypes.c_uint64) for name in ("at", "askew_at", "next")),
        *(
            (name, ctypes.c_uint32)
            for name in (
                "code_at", "code_end", "driver_at", "driver_end", "entry", "rows", "row", "inside",
                "more", "instructions_now", "cycles_now",
            )
        ),
    )  # fmt: skip


class Ledger:
    """Counts as they are written while the core runs.

    ``function`` is for every instruction, ``access`` for every access to memory, with ``address``.
    """

    def __init__(self, target: Target, image: Image, rows: int) -> None:
        code, driver = image.section(".text"), image.section(".driver")
        table = (thumb_cycles if target is THUMB else riscv_cycles)(code.content)
        self.count = Count(np.zeros(rows, np.uint32), np.zeros(rows, np.uint32))
        self._kept = (*table, *self.count)
        pointers = [array.ctypes.data for array in self._kept]
        entry = image.symbols["controller_step"] & ~1
        ends = [one.address + offset for one in (code, driver) for offset in (0, one.size)]
        self._record = _Record(*pointers, 0, 0, 0, *ends, entry, rows)
        self._library = ctypes.CDLL(str(build_library([ON_TARGET / "ledger.c"], {})))
        self.address = ctypes.addressof(self._record)
        functions = self._library.ledger_note, self._library.ledger_access
        self.function, self.access = (ctypes.cast(f, ctypes.c_void_p).value for f in functions)

    @property
    def askew_at(self) -> int | None:
        """The first instruction whose access lay across its size, None: none did."""
        return int(self._record.askew_at) or None

    @property
    def rows(self) -> int:
        """How many steps have been counted."""
        return int(self._record.row)
