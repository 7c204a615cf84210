"""Building a controller for a target: sources, settings and the driver, linked to an image."""

import hashlib
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from derate.errors import SurroundingsError
from derate.firmware.build import (
    WARNINGS,
    Compiler,
    cache_folder,
    laid_out,
    reference_folder,
    run_compiler,
)
from derate.firmware.image import Image, read
from derate.firmware.target import COMMON_FLAGS, WHOLE, Target, compiler_of

ON_TARGET = Path(__file__).parent / "on_target"
DRIVER = ON_TARGET / "driver.c"
LINK_FLAGS = ("-Wl,--gc-sections", "-Wl,--entry=driver_go")
SECTIONS = ("-ffunction-sections", "-fdata-sections")


def link_script(target: Target) -> str:
    """Where the linker puts things: the driver apart from what is measured."""
    constants = "*(.rodata .rodata.* .srodata .srodata.*)"
    inside, apart = (constants, "") if target.constants_in_ram else ("", constants)
    flash = f".rodata : {{ {apart} }}" if apart else ""
    return f"""ENTRY(driver_go)
SECTIONS {{
    . = {target.flash_at:#x};
    .driver : {{ KEEP(*(.driver)) }}
    .text : {{ *(.progmem .progmem.*) *(.text .text.*) }}
    {flash}
    . = {target.data_at:#x};
    .data : {{ *(.data .data.* .sdata .sdata.*) {inside} }}
    .bss : {{ *(.bss .bss.* .sbss .sbss.* COMMON) }}
    .mail (NOLOAD) : {{ . = ALIGN(4); KEEP(*(.mail)) }}
    /DISCARD/ : {{ *(.ARM.exidx*) *(.ARM.extab*) *(.eh_frame*) *(.comment) *(.note*) }}
}}
"""


def build_image(
    target: Target,
    sources: Sequence[Path],
    headers: Mapping[str, str],
    *,
    key_text: str = "",
    whole: bool = True,
) -> Image:
    """The program of C ``sources`` and generated ``headers`` (file name to text) for a target.

    ``key_text`` stands for the headers in the cache key when only part of them matters. ``whole``:
    all files are optimised as one. Raises SurroundingsError when something is missing or fails.
    """
    compiler = compiler_of(target)
    folders = sorted({source.parent for source in sources} | {reference_folder()})
    parts = [compiler.identity, target.name, *target.flags, *COMMON_FLAGS, *LINK_FLAGS, *SECTIONS]
    parts += [str(whole), link_script(target), key_text or repr(sorted(headers.items()))]
    used = {*sources, DRIVER, *(h for folder in folders for h in folder.glob("*.h"))}
    for file in sorted(used):
        parts += [file.name, file.read_text(encoding="utf-8", errors="replace")]
    name = hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]
    kept = cache_folder() / f"{name}.elf"
    said = kept.with_suffix(".txt")
    if not (kept.exists() and said.exists()):
        _build(target, compiler, sources, headers, kept, said, whole)
    return read(kept, tuple(said.read_text(encoding="utf-8").splitlines()))


def _build(
    target: Target,
    compiler: Compiler,
    sources: Sequence[Path],
    headers: Mapping[str, str],
    kept: Path,
    said: Path,
    whole: bool,
) -> None:
    try:
        with tempfile.TemporaryDirectory(dir=kept.parent) as name:
            work = Path(name)
            places = laid_out(work, sources, headers)
            (work / "target.ld").write_text(link_script(target), encoding="ascii")
            flags = [*target.flags, *COMMON_FLAGS]
            driver = str(work / "driver.o")
            run_compiler(compiler, [*flags, *places, "-c", str(DRIVER), "-o", driver])
            more = [*SECTIONS, *WARNINGS, *(WHOLE if whole else ())]
            output = str(work / "image.elf")
            link = [*LINK_FLAGS, f"-Wl,-T,{work / 'target.ld'}"]
            ends = ["-lgcc"] if target.kind == "simavr" else []
            files = [driver, *map(str, sources)]
            warnings = run_compiler(
                compiler, [*flags, *more, *places, *link, *files, *ends, "-o", output]
            )
            told = _warnings(warnings)
            (work / "said.txt").write_text("\n".join(told), encoding="utf-8")
            os.replace(work / "said.txt", said)
            os.replace(output, kept)
    except OSError as error:
        raise SurroundingsError(f"{kept.parent} cannot be written: {error}") from error


def _warnings(text: str) -> list[str]:
    """What the compiler warned of, without where its text was cut from; each once."""
    lines = [line for line in text.splitlines() if "warning:" in line]
    return list(dict.fromkeys(_shortened(line) for line in lines))


def _shortened(line: str) -> str:
    place, sign, rest = line.partition(": warning:")
    return f"{Path(place).name}:{rest}" if sign else line
