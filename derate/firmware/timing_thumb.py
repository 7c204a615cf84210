"""Cycles of the instructions of a Cortex-M0.

Source: Cortex-M0 technical reference manual, r0p0 (ARM DDI 0432), section 3.3, table of the
instruction set with cycle counts; for memory without wait states and the single-cycle multiplier
(the small one takes 32). Read in part in a copy of the table (1 cycle for most, loads and stores 2,
multiple ones 1 + N, writing to PC 3), the rest (taken branches 3, BL 4, BX 3, POP with PC 4 + N)
from memory.
"""

import numpy as np
from numpy.typing import NDArray

Cycles = tuple[NDArray[np.uint8], NDArray[np.uint8]]
"""Of every half-word of code: cycles, and what is added where a branch is taken."""
_LOW_REGISTERS = 0xFF


def thumb_cycles(code: bytes) -> Cycles:
    """Cycles of each instruction in ``code``, by half-word; literals count as something, too."""
    words = np.frombuffer(code[: len(code) // 2 * 2], "<u2")
    pairs = [_cycles(int(word)) for word in words]
    cycles = np.array([pair[0] for pair in pairs] or [0], np.uint8)
    taken = np.array([pair[1] for pair in pairs] or [0], np.uint8)
    return cycles, taken


def _cycles(word: int) -> tuple[int, int]:
    """Cycles, and cycles more when the branch is taken."""
    listed = bin(word & _LOW_REGISTERS).count("1")
    top = word >> 12
    if word >> 10 == 0b010001:  # high registers
        return _high_registers(word), 0
    if word >> 11 == 0b01001 or top in (0b0101, 0b0110, 0b0111, 0b1000, 0b1001):
        return 2, 0  # loads and stores
    if word >> 9 == 0b1011010:  # PUSH, LR with R
        return 1 + listed + (word >> 8 & 1), 0
    if word >> 9 == 0b1011110:  # POP, PC with R
        return (4 + listed + 1 if word >> 8 & 1 else 1 + listed), 0
    if top == 0b1100:  # LDM, STM
        return 1 + listed, 0
    if top == 0b1101 and (word >> 8 & 0xF) < 0xE:  # conditional branch
        return 1, 2
    if word >> 11 == 0b11100:  # branch
        return 3, 0
    if word >> 11 in (0b11110, 0b11101):  # first half-word of BL: the only one compilers use
        return 4, 0
    return 1, 0


def _high_registers(word: int) -> int:
    """ADD, CMP, MOV with any register, BX, BLX."""
    kind = word >> 8 & 3
    to = (word >> 7 & 1) << 3 | word & 7
    if kind == 3:
        return 3
    return 3 if kind in (0, 2) and to == 15 else 1
