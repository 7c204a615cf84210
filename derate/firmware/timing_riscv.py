"""Cycles of the instructions of a small RISC-V core, RV32IMC.

Source: Ibex reference guide (lowRISC), "Pipeline details", table of stall cycles by instruction
type, read in a copy of that table; two-stage pipeline, memory that answers at once, no branch
target ALU, fast multi-cycle multiplier: loads and stores stall 1 cycle, MUL 2, MULH 3, divisions
37, jumps 1, taken branches 2. Other cores of the kind differ by a cycle here and there.
"""

import numpy as np

from derate.firmware.timing_thumb import Cycles

MUL, MULH, DIVIDE = 3, 4, 38
MEMORY, JUMP, TAKEN_MORE = 2, 2, 2
_LOAD, _STORE, _BRANCH, _JALR, _JAL, _REGISTERS = 0x03, 0x23, 0x63, 0x67, 0x6F, 0x33


def riscv_cycles(code: bytes) -> Cycles:
    """Cycles of each instruction in ``code``, by half-word."""
    words = np.frombuffer(code[: len(code) // 2 * 2], "<u2").tolist()
    pairs = [
        _cycles(word, words[i + 1] if i + 1 < len(words) else 0) for i, word in enumerate(words)
    ]
    cycles = np.array([pair[0] for pair in pairs] or [0], np.uint8)
    taken = np.array([pair[1] for pair in pairs] or [0], np.uint8)
    return cycles, taken


def _cycles(low: int, high: int) -> tuple[int, int]:
    """Cycles, and cycles more when the branch is taken."""
    if low & 3 != 3:
        return _compressed(low)
    operation = low & 0x7F
    if operation in (_LOAD, _STORE):
        return MEMORY, 0
    if operation == _BRANCH:
        return 1, TAKEN_MORE
    if operation in (_JAL, _JALR):
        return JUMP, 0
    if operation == _REGISTERS and high >> 9 == 1:  # funct7 1: multiplication and division
        function = low >> 12 & 7
        return (MUL if function == 0 else MULH if function < 4 else DIVIDE), 0
    return 1, 0


def _compressed(word: int) -> tuple[int, int]:
    quadrant, function = word & 3, word >> 13
    if quadrant == 0:
        return (1 if function == 0 else MEMORY), 0
    if quadrant == 1:
        if function in (1, 5):  # C.JAL, C.J
            return JUMP, 0
        return (1, TAKEN_MORE) if function >= 6 else (1, 0)
    if function in (2, 6):  # C.LWSP, C.SWSP
        return MEMORY, 0
    if function == 4 and word >> 2 & 0x1F == 0 and word >> 7 & 0x1F:  # C.JR, C.JALR
        return JUMP, 0
    return 1, 0
