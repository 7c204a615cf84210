"""Long random walks over codes and requests, the same for every machine."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

SEED = 20_240_901
ROWS = 40_000
STRETCH = 400
"""Rows over which a walk keeps its manner, usually."""
STRIDES = (1, 4, 30, 300)
"""Largest change of a code a step, one of them a stretch; of 4096."""
SHARE_OF_FAULTS = 0.004
MOST_REQUEST = 32768


class Inputs(NamedTuple):
    """What a controller is given, a row a step."""

    name: str
    codes: NDArray[np.uint16]
    requests: NDArray[np.uint16]


def random_walk(
    sensors: int, channels: int, codes: int, *, rows: int = ROWS, stretch: int = STRETCH
) -> Inputs:
    """Codes that creep, run and jump over the whole range, faults, any requests.

    ``stretch``: rows over which it keeps its manner.
    """
    random = np.random.default_rng(SEED)
    stretches = -(-rows // stretch)
    stride = np.repeat(random.choice(STRIDES, stretches) * codes / 4096, stretch)[:rows]
    drift = np.repeat(random.uniform(-0.6, 0.6, (stretches, sensors)), stretch, axis=0)[:rows]
    steps = (random.uniform(-1.0, 1.0, (rows, sensors)) + drift) * stride[:, None]
    start = random.integers(0, codes, sensors)
    walked = np.abs(np.mod(start + steps.cumsum(axis=0), 2 * codes) - codes)  # folded at the rails
    faulty = random.random((rows, sensors)) < SHARE_OF_FAULTS
    walked[faulty] = random.choice([0.0, codes - 1.0], int(faulty.sum()))
    held = np.repeat(random.integers(0, MOST_REQUEST + 1, (stretches, channels)), stretch, axis=0)
    kind = np.repeat(random.integers(0, 4, (stretches, channels)), stretch, axis=0)
    held[kind == 0] = 0
    held[kind == 1] = MOST_REQUEST
    any_request = random.integers(0, 65536, (rows, channels))
    rare = random.random((rows, channels)) < SHARE_OF_FAULTS
    requests = np.where(rare, any_request, held[:rows])
    limited = walked.clip(0, codes - 1).astype(np.uint16)
    return Inputs("a random walk", limited, requests.astype(np.uint16))
