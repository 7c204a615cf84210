"""The microcontroller cores that a controller is built for and emulated on."""

import importlib.util
import shutil
from dataclasses import dataclass
from typing import Literal

from derate.errors import SurroundingsError
from derate.firmware.build import Compiler, packaged_compiler

COMMON_FLAGS = ("-std=c99", "-Os", "-g", "-ffreestanding", "-fno-builtin")
ZIG_FLAGS = ("-fno-unwind-tables", "-fno-asynchronous-unwind-tables", "-fno-sanitize=all")
WHOLE = ("-flto",)
"""All files of the controller are looked at together; the driver is not among them."""


@dataclass(frozen=True)
class Target:
    """One kind of core.

    ``flash_at``, ``data_at``: where code and static variables lie; ``pointer_bytes`` and
    ``int_bits`` as the compiler has them; ``timing``: whose cycles are counted.
    """

    name: str
    title: str
    kind: Literal["unicorn", "simavr"]
    flags: tuple[str, ...]
    flash_at: int
    data_at: int
    pointer_bytes: int
    int_bits: int
    timing: str

    @property
    def constants_in_ram(self) -> bool:
        """Whether constants are copied to RAM, because code and data have separate addresses."""
        return self.kind == "simavr"


THUMB = Target(
    name="thumb",
    title="Cortex-M0",
    kind="unicorn",
    flags=("-target", "thumb-freestanding-eabi", "-mcpu=cortex_m0", *ZIG_FLAGS),
    flash_at=0x0001_0000,
    data_at=0x2000_0000,
    pointer_bytes=4,
    int_bits=32,
    timing="Cortex-M0 technical reference manual, no wait states, single-cycle multiplier",
)
RISCV32 = Target(
    name="riscv32",
    title="RV32IMC",
    kind="unicorn",
    flags=(
        "-target", "riscv32-freestanding-none", "-mcpu=generic_rv32+m+c", "-mno-relax", *ZIG_FLAGS,
    ),
    flash_at=0x0001_0000,
    data_at=0x2000_0000,
    pointer_bytes=4,
    int_bits=32,
    timing="two-stage Ibex core, its reference guide, no wait states, multiplier of 3 cycles",
)  # fmt: skip
AVR = Target(
    name="avr",
    title="ATmega1284P",
    kind="simavr",
    flags=("-mmcu=atmega1284p", "-nostdlib", "-Wno-missing-field-initializers"),
    flash_at=0,
    data_at=0x0080_0100,
    pointer_bytes=2,
    int_bits=16,
    timing="simavr's own cycles, as in the AVR instruction set manual",
)
TARGETS = {target.name: target for target in (THUMB, RISCV32, AVR)}


def missing(target: Target) -> str | None:
    """What this machine lacks to build for the target and emulate it, in a sentence, or None."""
    if target.kind == "simavr":
        return _missing_for_avr()
    lacking = [name for name in ("unicorn", "elftools", "ziglang") if not _installed(name)]
    if lacking:
        named = " and ".join("pyelftools" if name == "elftools" else name for name in lacking)
        return (
            f"{target.name} cannot be emulated without {named} for Python; `pip install"
            " derate[emulated]` brings it"
        )
    return None


def _missing_for_avr() -> str | None:
    import ctypes.util

    if not _installed("elftools"):
        return (
            "avr cannot be emulated without pyelftools for Python; `pip install derate[emulated]`"
            " brings it"
        )
    if shutil.which("avr-gcc") is None:
        return "avr cannot be built: there is no avr-gcc (package gcc-avr of Debian and Ubuntu)"
    if ctypes.util.find_library("simavr") is None or not _has_header():
        return (
            "avr cannot be emulated: there is no simavr library with its headers (package"
            " libsimavr-dev of Debian and Ubuntu)"
        )
    return None


def _has_header() -> bool:
    from pathlib import Path

    return any(
        Path(folder, "simavr", "sim_avr.h").exists()
        for folder in ("/usr/include", "/usr/local/include")
    )


def _installed(module: str) -> bool:
    return importlib.util.find_spec(module) is not None


def compiler_of(target: Target) -> Compiler:
    """The compiler for a target; raises SurroundingsError when something is missing."""
    if (lacking := missing(target)) is not None:
        raise SurroundingsError(lacking)
    if target.kind == "simavr":
        from derate.firmware.build import identified

        return identified((shutil.which("avr-gcc") or "avr-gcc",))
    return packaged_compiler()
