"""Instruction timings against the cores' published tables, on small known sequences."""

import struct

import numpy as np
import pytest

from derate.firmware.target import AVR
from derate.firmware.timing_riscv import riscv_cycles
from derate.firmware.timing_thumb import thumb_cycles
from tests.firmware.own_c import image_for, own_c, processor_of


@pytest.mark.parametrize(
    ("instruction", "words", "cycles", "taken"),
    [
        ("MOVS r0, #1", [0x2001], 1, 0),
        ("MULS r0, r1", [0x4348], 1, 0),
        ("LDR r0, [r1]", [0x6808], 2, 0),
        ("STRH r0, [r1]", [0x8008], 2, 0),
        ("LDR r0, [pc, #4]", [0x4801], 2, 0),
        ("LDM r0!, {r1, r2, r3}", [0xC80E], 4, 0),
        ("PUSH {r4, r5, lr}", [0xB530], 4, 0),
        ("POP {r4, r5}", [0xBC30], 3, 0),
        ("POP {r4, pc}", [0xBD10], 6, 0),
        ("BEQ, not taken 1, taken 3", [0xD0FE], 1, 2),
        ("B", [0xE7FE], 3, 0),
        ("BL", [0xF000, 0xF800], 4, 0),
        ("BX lr", [0x4770], 3, 0),
        ("MOV r8, r0", [0x4680], 1, 0),
        ("MOV pc, r0", [0x4687], 3, 0),
    ],
)
def test_the_cortex_m0_takes_its_published_cycles(instruction, words, cycles, taken):
    """Cortex-M0 technical reference manual (ARM DDI 0432), table of cycle counts in section 3.3.

    Loads, stores, multiple ones and MOV to PC were read in a copy; branches, BL, BX and POP with
    PC are from memory.
    """
    found = thumb_cycles(struct.pack(f"<{len(words)}H", *words))
    assert (found[0][0], found[1][0]) == (cycles, taken)


@pytest.mark.parametrize(
    ("instruction", "word", "cycles", "taken"),
    [
        ("ADDI a0, a0, 1", 0x00150513, 1, 0),
        ("LW a0, 0(a1)", 0x0005A503, 2, 0),
        ("SH a0, 0(a1)", 0x00A59023, 2, 0),
        ("MUL a0, a0, a1", 0x02B50533, 3, 0),
        ("MULHU a0, a0, a1", 0x02B53533, 4, 0),
        ("DIVU a0, a0, a1", 0x02B55533, 38, 0),
        ("BEQ, not taken 1, taken 3", 0x00B50463, 1, 2),
        ("JAL", 0x0000006F, 2, 0),
        ("RET, compressed", 0x8082, 2, 0),
        ("C.BEQZ a0", 0xC101, 1, 2),
        ("C.LW a0, 0(a1)", 0x4188, 2, 0),
        ("C.LWSP ra", 0x4082, 2, 0),
        ("C.MV a0, a1", 0x852E, 1, 0),
    ],
)
def test_the_risc_v_core_takes_its_published_cycles(instruction, word, cycles, taken):
    """Ibex reference guide, "Pipeline details": one cycle and the stall cycles of its table."""
    found = riscv_cycles(struct.pack("<I", word))
    assert (found[0][0], found[1][0]) == (cycles, taken)


PAIRS = {
    "thumb": ("muls r0, r0, r0", "ldr r0, [sp]", 1, 2),
    "riscv32": ("mul a0, a0, a0", "lw a0, 0(sp)", 3, 2),
    "avr": ("mul r24, r24", "lds r24, 0x300", 2, 2),
}


@pytest.mark.parametrize("name", PAIRS)
@pytest.mark.parametrize("which", [0, 1])
def test_ten_more_of_an_instruction_take_ten_times_its_cycles(name, which, tmp_path):
    """Two controllers that differ by ten instructions differ by ten of them in the count.

    AVR instruction set manual, cores with multiplier: MUL and LDS take two cycles.
    """
    text, *cycles = PAIRS[name][which], *PAIRS[name][2:]
    used = {"thumb": "r0", "riscv32": "a0", "avr": "r24"}[name]
    counts = []
    for times in (1, 11):
        body = "".join(f"{text}\\n" for _ in range(times))
        clobbers = f'"{used}"' + (', "r0", "r1"' if name == "avr" else "")
        end = "clr r1" if name == "avr" else ""
        step = f'__asm__ volatile ("{body}{end}" ::: {clobbers}); duties[0] = 0; return 0;'
        core = processor_of(tmp_path, name, own_c(step))
        count = core.count(1)
        core.run(np.zeros((1, 1), np.uint16), np.zeros((1, 2), np.uint16))
        counts.append((int(count.instructions[0]), int(count.cycles[0])))
        core.count_no_more()
    assert counts[1][0] - counts[0][0] == 10
    assert counts[1][1] - counts[0][1] == 10 * cycles[which]


def test_a_loop_on_the_cortex_m0_counts_its_taken_branches(tmp_path):
    """SUBS and BNE a hundred times: 1 + 3 cycles each but the last, whose branch falls through."""
    loop = "movs r0, #%d\\n1: subs r0, r0, #1\\nbne 1b"
    counts = []
    for times in (1, 100):
        assembly = f'__asm__ volatile (".syntax unified\\n{loop % times}" ::: "r0", "cc");'
        core = processor_of(tmp_path, "thumb", own_c(f"{assembly} return 0;"))
        count = core.count(1)
        core.run(np.zeros((1, 1), np.uint16), np.zeros((1, 2), np.uint16))
        counts.append((int(count.instructions[0]), int(count.cycles[0])))
    assert counts[1][0] - counts[0][0] == 99 * 2
    assert counts[1][1] - counts[0][1] == 99 * 4


@pytest.mark.parametrize("name", PAIRS)
def test_sizes_are_the_sums_of_the_sections(name, tmp_path):
    """Code, constants and variables are what the ELF headers say, read here by hand."""
    step = (
        "static uint16_t kept = 7, cleared; static const uint16_t fixed[3] = {1, 2, 3};"
        " kept += requests[0]; cleared += kept; duties[0] = (uint16_t)(cleared +"
        " fixed[codes[0] % 3]); return 0;"
    )
    image = image_for(tmp_path, name, own_c(step))
    sizes = section_sizes(image.path.read_bytes())
    constants = sizes.get(".rodata", 0) + sizes.get(".data", 0)
    assert image.code_bytes == sizes[".text"] > 0
    assert image.constant_bytes == constants >= 6
    assert image.static_bytes == sizes.get(".data", 0) + sizes[".bss"]
    functions = [(a, s) for a, s, _ in image.functions if a >= image.section(".text").address]
    assert sum(dict(functions).values()) <= image.code_bytes


def section_sizes(elf):
    """Sizes of sections of a 32-bit little-endian ELF file, by name (System V ABI, chapter 4)."""
    at, count, names = (
        struct.unpack_from("<I10xxxHH", elf, 32)[0],
        *struct.unpack_from("<HH", elf, 48),
    )
    headers = [struct.unpack_from("<10I", elf, at + 40 * i) for i in range(count)]
    start = headers[names][4]
    return {elf[start + h[0] : elf.index(b"\0", start + h[0])].decode(): h[5] for h in headers}


def test_the_avr_is_the_one_with_a_multiplier():
    """The counts stand for cores with MUL, as the compiler is told."""
    assert "-mmcu=atmega1284p" in AVR.flags
