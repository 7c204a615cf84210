"""Cores that unicorn emulates: Cortex-M0 and RISC-V of 32 bits.

Every region that a controller may use ends where its last page ends, and the pages around it do
not exist: what is written past an end faults in the very instruction, and so does what is written
to codes and requests. Before a start there is slack, whose paint is looked at after every batch of
rows.
"""

import ctypes
import mmap
from typing import Any

import numpy as np
import unicorn
from numpy.typing import NDArray
from unicorn import arm_const, riscv_const

from derate.errors import FirmwareError
from derate.firmware.image import Image
from derate.firmware.ledger import Ledger
from derate.firmware.mailbox import INPUTS, ONE_STEP, PAINT, ROWS, Layout, Region
from derate.firmware.processor import Count, Processor
from derate.firmware.target import THUMB, Target
from derate.firmware.watchdog import watch

PAGE = 4096
FLASH_BYTES = 256 * 1024
DATA_BYTES = 64 * 1024
STACK_BYTES = 2048
ROWS_AT_ONCE = 2048
READ = unicorn.UC_PROT_READ
WRITE = unicorn.UC_PROT_WRITE
FIRST_REGION = 0x3000_0000
BETWEEN = 0x0010_0000
"""From one region to the next; half of it to the pages through which an input is filled."""
ACCESSES = {
    unicorn.UC_MEM_WRITE_UNMAPPED: "wrote",
    unicorn.UC_MEM_READ_UNMAPPED: "read",
    unicorn.UC_MEM_FETCH_UNMAPPED: "jumped",
    unicorn.UC_MEM_WRITE_PROT: "wrote",
    unicorn.UC_MEM_FETCH_PROT: "jumped",
}


class UnicornProcessor(Processor):
    """A controller on a core of unicorn."""

    def __init__(self, target: Target, image: Image, sensors: int, channels: int) -> None:
        self._thumb = target is THUMB
        self._memory: dict[int, NDArray[np.uint8]] = {}
        self._mapped: list[mmap.mmap] = []
        self._ledger: Ledger | None = None
        self._hooks: list[int] = []
        self._stray: tuple[str, int] | None = None
        self.calls, self.going, self._given_up = 0, False, False
        self._start = _library().uc_emu_start  # the binding's own method takes 2 us more
        self._engine: Any
        if self._thumb:
            mode = unicorn.UC_MODE_THUMB | unicorn.UC_MODE_MCLASS
            self._engine = unicorn.Uc(unicorn.UC_ARCH_ARM, mode)
            self._engine.ctl_set_cpu_model(arm_const.UC_CPU_ARM_CORTEX_M0)
            self._sp, self._pc = arm_const.UC_ARM_REG_SP, arm_const.UC_ARM_REG_PC
        else:
            self._engine = unicorn.Uc(unicorn.UC_ARCH_RISCV, unicorn.UC_MODE_RISCV32)
            self._sp, self._pc = riscv_const.UC_RISCV_REG_SP, riscv_const.UC_RISCV_REG_PC
        self._map(target.flash_at, FLASH_BYTES, READ | unicorn.UC_PROT_EXEC)
        self._map(target.data_at, DATA_BYTES)
        for section in image.sections:
            if section.content and section.address < target.data_at:
                place = self.view_of(target.flash_at)
                start = section.address - target.flash_at
                place[start : start + section.size] = np.frombuffer(section.content, np.uint8)
        watch(self)
        self._engine.hook_add(unicorn.UC_HOOK_MEM_INVALID, self._note_stray)
        ends = image.symbols["driver_go"], image.symbols["driver_done"] & ~1, 0
        self._way = (self._engine._uch, *map(ctypes.c_uint64, ends), ctypes.c_size_t(0))
        super().__init__(target, image, sensors, channels)

    def view(self, address: int, size: int) -> NDArray[np.uint8]:
        """The core's memory there."""
        for start, memory in self._memory.items():
            if start <= address and address + size <= start + len(memory):
                return memory[address - start : address - start + size]
        raise ValueError(f"no memory at {address:#x}")

    def view_of(self, start: int) -> NDArray[np.uint8]:
        """All memory that was mapped at ``start``."""
        return self._memory[start]

    def _map(self, address: int, size: int, rights: int = READ | WRITE) -> None:
        pages = mmap.mmap(-1, size)
        self._mapped.append(pages)
        memory = np.frombuffer(pages, np.uint8)
        self._engine.mem_map_ptr(address, size, rights, memory.ctypes.data)
        self._memory[address] = memory

    def _lay(self, state_size: int) -> Layout:
        rows = ROWS_AT_ONCE
        sizes = {
            "state": state_size,
            "codes": 2 * self.sensors,
            "requests": 2 * self.channels,
            "duties": 2 * self.channels,
            "stack": STACK_BYTES,
            "saved": state_size,
            "in_codes": 2 * self.sensors * rows,
            "in_requests": 2 * self.channels * rows,
            "out_duties": 2 * self.channels * rows,
            "out_answers": 4 * rows,
        }
        regions = {}
        for number, (name, size) in enumerate(sizes.items()):
            low = FIRST_REGION + number * BETWEEN
            space = max(-(-size // PAGE), 1) * PAGE
            at = low if name == "stack" else low + space - -(-size // 4) * 4
            regions[name] = Region(name, at, size, low, low + space)
            if low in self._memory and len(self._memory[low]) != space:
                self._engine.mem_unmap(low, len(self._memory.pop(low)))
            if low not in self._memory:
                self._map(low, space, READ if name in INPUTS else READ | WRITE)
                if name in INPUTS:
                    pages = self._memory[low].ctypes.data
                    self._engine.mem_map_ptr(low + BETWEEN // 2, space, READ | WRITE, pages)
            if name in INPUTS:
                away = (edge + BETWEEN // 2 for edge in (low, low + space))
                put = INPUTS[name]
                regions[put] = Region(put, at + BETWEEN // 2, size, *away)
            if name in (*ONE_STEP, "stack"):
                self._memory[low][:] = PAINT
        self._top = regions["stack"].address + STACK_BYTES
        self._engine.reg_write(self._sp, self._top)
        return Layout(regions, rows)

    def _go(self) -> None:
        self.calls += 1
        self.going = True
        status = self._start(*self._way)
        self.going = False
        if status != unicorn.UC_ERR_OK:
            raise self._fault(unicorn.UcError(status))
        if self._given_up:
            self._given_up = False
            at = int(self._engine.reg_read(self._pc))
            self._engine.reg_write(self._sp, self._top)
            raise FirmwareError(f"{self._who(at)} never returned")

    def give_up(self) -> None:
        """End the call that is going on."""
        self._given_up = True
        self._engine.emu_stop()

    def _fault(self, error: unicorn.UcError) -> FirmwareError:
        at = int(self._engine.reg_read(self._pc))
        self._engine.reg_write(self._sp, self._top)
        stray, self._stray = self._stray, None
        if stray is None:
            return FirmwareError(f"{self._who(at)} stopped the core: {error}")
        did, address = stray
        return FirmwareError(f"{self._who(at)} {did} {self.layout.describe(address)}")

    def _note_stray(
        self, engine: Any, access: int, address: int, size: int, value: int, kept: Any
    ) -> bool:
        self._stray = (ACCESSES.get(access, "accessed"), address)
        return False

    def paint_stack(self) -> None:
        """Forget how deep the stack has been; find where the driver leaves it."""
        super().paint_stack()
        self._mail(ROWS, 1)
        entry = self.image.symbols["controller_step"] & ~1
        self._engine.ctl_flush_tb()  # code translated before does not know the new end
        self._engine.emu_start(self._go_at, entry)
        self._entry_depth = self._top - int(self._engine.reg_read(self._sp))
        self._engine.reg_write(self._sp, self._top)
        self._engine.ctl_flush_tb()
        super().paint_stack()

    @property
    def stack_used(self) -> int:
        """Bytes of stack that the controller took at most."""
        touched = np.flatnonzero(self.region("stack") != PAINT)
        return max(STACK_BYTES - int(touched[0]) - self._entry_depth, 0) if len(touched) else 0

    def count(self, rows: int) -> Count:
        """Count instructions and cycles of each step from here on."""
        self.count_no_more()
        self._ledger = Ledger(self.target, self.image, rows)
        self._hook(unicorn.UC_HOOK_CODE, self._ledger.function)
        if self._thumb:  # the other core divides an access that is not aligned
            kinds = unicorn.UC_HOOK_MEM_READ | unicorn.UC_HOOK_MEM_WRITE
            self._hook(kinds, self._ledger.access)
        self._engine.ctl_flush_tb()
        return self._ledger.count

    def _hook(self, kinds: int, function: int | None) -> None:
        """Let the core call a function of the ledger."""
        assert self._ledger is not None
        hook = ctypes.c_size_t()
        status = _library().uc_hook_add(
            self._engine._uch,
            ctypes.byref(hook),
            kinds,
            ctypes.c_void_p(function),
            ctypes.c_void_p(self._ledger.address),
            ctypes.c_uint64(1),
            ctypes.c_uint64(0),
        )
        if status != unicorn.UC_ERR_OK:
            raise RuntimeError(f"unicorn refused to count: {status}")
        self._hooks.append(hook.value)

    def count_no_more(self) -> None:
        """Run at full speed again."""
        for hook in self._hooks:
            _library().uc_hook_del(self._engine._uch, ctypes.c_size_t(hook))
        self._hooks.clear()
        self._ledger = None
        self._engine.ctl_flush_tb()

    def check(self) -> None:
        """Also raise FirmwareError where counting has seen an access that this core cannot do."""
        super().check()
        if self._ledger is not None and (at := self._ledger.askew_at) is not None:
            raise FirmwareError(
                f"{self._who(at)} accessed a word or half-word at an address that is no multiple"
                " of its size, at which this core stops"
            )


def _library() -> Any:
    from unicorn.unicorn_py3 import unicorn as binding

    return binding.uclib
