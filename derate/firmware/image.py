"""A linked program for a target: what lies where, and how large it is."""

import bisect
import io
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

DRIVER = (".driver", ".mail")
"""Sections of the driver, which belong to the emulation and count nowhere."""


@dataclass(frozen=True)
class Section:
    """A section of a program; ``content`` is empty where it only takes memory."""

    name: str
    address: int
    size: int
    content: bytes


@dataclass(frozen=True)
class Image:
    """A program: its sections in memory, the addresses of its symbols, its warnings.

    ``functions``: address, size and name of each function, by address.
    """

    path: Path
    sections: tuple[Section, ...]
    symbols: dict[str, int]
    functions: tuple[tuple[int, int, str], ...]
    warnings: tuple[str, ...]

    def section(self, name: str) -> Section:
        """A section by name; one of size 0 where there is none."""
        return next((s for s in self.sections if s.name == name), Section(name, 0, 0, b""))

    @property
    def code_bytes(self) -> int:
        """Bytes of code in flash, with the compiler's own routines that it calls."""
        return self.section(".text").size

    @property
    def constant_bytes(self) -> int:
        """Bytes of constants and of initial values of variables in flash."""
        return self.section(".rodata").size + self.section(".data").size

    @property
    def static_bytes(self) -> int:
        """Bytes of RAM that static variables take (and constants, where they lie in RAM)."""
        return self.section(".data").size + self.section(".bss").size

    def function_at(self, address: int) -> str:
        """The name of the function at an address, or the address."""
        index = bisect.bisect_right(self.functions, (address, 1 << 62, "")) - 1
        if index >= 0:
            start, size, name = self.functions[index]
            if address < start + size:
                return name
        return f"address {address:#x}"

    def line_at(self, address: int) -> str | None:
        """File and line of the C source at an address, as ``thermal.c:42``, if it is known."""
        index = bisect.bisect_right(self._lines, (address, "\U0010ffff")) - 1
        return self._lines[index][1] or None if index >= 0 else None

    @cached_property
    def _lines(self) -> list[tuple[int, str]]:
        from elftools.elf.elffile import ELFFile

        found: list[tuple[int, str]] = []
        elf = ELFFile(io.BytesIO(self.path.read_bytes()))
        if not elf.has_dwarf_info():
            return found
        dwarf = elf.get_dwarf_info()
        for unit in dwarf.iter_CUs():
            program = dwarf.line_program_for_CU(unit)
            if program is None:
                continue
            files = program["file_entry"]
            base = 0 if program["version"] >= 5 else 1
            for entry in program.get_entries():
                state = entry.state
                if state is None:
                    continue
                name = files[state.file - base].name.decode(errors="replace")
                where = "" if state.end_sequence else f"{Path(name).name}:{state.line}"
                found.append((state.address, where))
        return sorted(found)


def read(path: Path, warnings: tuple[str, ...] = ()) -> Image:
    """The program in an ELF file."""
    from elftools.elf.elffile import ELFFile

    elf = ELFFile(io.BytesIO(path.read_bytes()))
    sections = tuple(_section(s) for s in elf.iter_sections() if s["sh_flags"] & 2 and s["sh_size"])
    table: Any = elf.get_section_by_name(".symtab")
    symbols = {s.name: int(s["st_value"]) for s in table.iter_symbols() if s.name}
    odd = 1 if elf["e_machine"] == "EM_ARM" else 0  # bit 0 of an address says "Thumb"
    functions = sorted(
        (int(s["st_value"]) & ~odd, int(s["st_size"]), str(s.name))
        for s in table.iter_symbols()
        if s["st_info"]["type"] == "STT_FUNC" and s["st_size"]
    )
    return Image(path, sections, symbols, tuple(functions), warnings)


def _section(raw: Any) -> Section:
    empty = raw["sh_type"] == "SHT_NOBITS"
    return Section(raw.name, raw["sh_addr"], raw["sh_size"], b"" if empty else raw.data())
