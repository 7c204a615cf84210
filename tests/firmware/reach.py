"""Ways into the C controller that tests share: walks of codes, its memory, mutated builds."""

import ctypes
import random
from collections.abc import Iterator
from pathlib import Path

from derate.firmware.build import build_library, controller_sources
from derate.firmware.header import FILE_NAME, POLICY_SOURCES, settings_header
from derate.firmware.host import HostBody
from derate.lamp import Lamp
from derate.sensing.chain import chains_of

FULL_Q15 = 32768
PULL_UP_OPEN, PULL_UP_SHORT = 4095, 0
"""Codes of a broken thermistor below a 12-bit ADC's pull-up; open goes to full scale."""


class Memory(ctypes.Structure):
    """struct derate_state, field for field, with the first word of the policy."""

    _fields_ = (
        ("filtered", ctypes.c_uint32),
        ("limit_q31", ctypes.c_uint32),
        ("hold_steps", ctypes.c_uint32),
        ("clear_steps", ctypes.c_uint32),
        ("off_steps", ctypes.c_uint32),
        ("driven_steps", ctypes.c_uint32),
        ("reading_centi_c", ctypes.c_int16 * 2),
        ("lowest_centi_c", ctypes.c_int16),
        ("fault_flags", ctypes.c_uint16),
        ("running", ctypes.c_uint8),
        ("policy_memory", ctypes.c_uint32 * 1),
    )


def memory_of(body: HostBody) -> Memory:
    """What the controller remembers, by name."""
    return Memory.from_buffer_copy(body.state)


def filtered_centi_c(body: HostBody) -> int:
    """The filtered reading as the policy sees it [0.01 degC]."""
    return ((memory_of(body).filtered + (1 << 13)) >> 14) - 32768


def walk(seed: int, steps: int, sensors: int, *, calm: bool = False) -> Iterator[tuple[list, list]]:
    """Codes and requests that wander, jump, break and rest; ``calm`` leaves out what breaks.

    The second sensor stays within 20 codes of the first, unless it breaks.
    """
    rng = random.Random(seed)
    code, pace = 2000, 0
    for _ in range(steps):
        if rng.random() < 0.02:
            pace = rng.choice([0, 1, 5, 20, 60])
        code = min(4040, max(300, code + rng.randint(-pace, pace)))
        codes = [code, min(4040, max(300, code + rng.randint(-20, 20)))][:sensors]
        if not calm and rng.random() < 0.01:
            wild = rng.choice([0, 1, 4094, 4095, 65535, rng.randint(0, 4095)])
            codes[rng.randrange(sensors)] = wild
        yield codes, [rng.choice([0, 1, 100, 16384, 32767, 32768, 65535]), rng.randint(0, 65535)]


def mutated(lamp: Lamp, folder: Path, old: str, new: str) -> HostBody:
    """The lamp's controller built from sources in which ``old`` was replaced by ``new``."""
    sources = controller_sources(POLICY_SOURCES[lamp.controller.policy.kind])
    found = 0
    for file in [*sources, *sources[0].parent.glob("*.h")]:
        text = file.read_text()
        found += text.count(old)
        (folder / file.name).write_text(text.replace(old, new))
    assert found == 1, f"{found} places to mutate"
    chains = chains_of(lamp)
    headers = {FILE_NAME: settings_header(lamp, chains)}
    library = build_library([folder / source.name for source in sources], headers)
    return HostBody(lamp, chains, library=library)
