"""Random numbers that are a function of (seed, unit, tick, use) and of nothing else.

A counter-based generator, Threefry-2x32 with 20 rounds (Salmon et al., Parallel random numbers:
as easy as 1, 2, 3, SC11, 2011): key (seed, unit), counter (tick, use), each taken modulo 2^32.
It adds, rotates and xors 32-bit words, so plain integers give the same result compiled and
under the interpreter, and results do not depend on order, threads or machine.
"""

import math

from derate.compiled import compiled

WORD = 0xFFFFFFFF
PARITY = 0x1BD11BDA
ROTATIONS = (13, 15, 26, 6, 17, 29, 16, 24)
ROUNDS = 20
TWO_POW_32 = 4294967296.0


@compiled
def words(seed: int, unit: int, tick: int, use: int) -> tuple[int, int]:
    """Two independent 32-bit words for the four numbers."""
    key0, key1 = seed & WORD, unit & WORD
    key2 = PARITY ^ key0 ^ key1
    x0, x1 = ((tick & WORD) + key0) & WORD, ((use & WORD) + key1) & WORD
    for turn in range(ROUNDS):
        x0 = (x0 + x1) & WORD
        shift = ROTATIONS[turn % 8]
        x1 = (((x1 << shift) | (x1 >> (32 - shift))) & WORD) ^ x0
        if turn % 4 == 3:
            inject = turn // 4 + 1
            x0 = (x0 + (key1 if inject % 3 == 1 else key2 if inject % 3 == 2 else key0)) & WORD
            x1 = (x1 + (key2 if inject % 3 == 1 else key0 if inject % 3 == 2 else key1)) & WORD
            x1 = (x1 + inject) & WORD
    return x0, x1


@compiled
def uniform(seed: int, unit: int, tick: int, use: int) -> float:
    """A number evenly spread over the open interval (0, 1), in steps of 2^-32."""
    return (words(seed, unit, tick, use)[0] + 0.5) / TWO_POW_32


@compiled
def gaussian(seed: int, unit: int, tick: int, use: int) -> float:
    """A normal number of mean 0 and variance 1 (Box and Muller, 1958); at most 6.8 in size."""
    first, second = words(seed, unit, tick, use)
    radius = math.sqrt(-2.0 * math.log((first + 0.5) / TWO_POW_32))
    return radius * math.cos(2.0 * math.pi * (second + 0.5) / TWO_POW_32)
