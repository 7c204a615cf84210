"""Settings laid out in memory against those compiled into the controller."""

import ctypes

import numpy as np
import pytest

from derate.firmware.header import POLICY_SOURCES
from derate.firmware.host import HostBody
from derate.firmware.settings_memory import POLICIES, SettingsMemory
from derate.lamp.lamp import Lamp
from derate.sensing.chain import chains_of
from tests.control.small_lamp import small_lamp
from tests.loop.lamps import spot

STEPS = 4000
KINDS = {
    "none": {"kind": "none"},
    "steps": {
        "kind": "steps",
        "hysteresis": 2.0,
        "levels": [{"at": 50.0, "limit": 0.6}, {"at": 70.0, "limit": 0.2}],
    },
    "foldback": {"kind": "foldback", "start": 50.0, "end": 80.0, "floor": 0.1, "hysteresis": 1.0},
    "predictive": {"kind": "predictive", "band": 30.0, "guard": 40.0, "floor": 0.1},
    "pi": {"kind": "pi", "setpoint": 60.0, "floor": 0.1, "gain": 0.02, "integral": 0.01},
}
"""Invented settings of every kind of policy."""


def test_every_policy_is_laid_out():
    """No kind of policy is forgotten."""
    assert set(POLICIES) == set(POLICY_SOURCES) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_memory_says_what_the_header_says(kind):
    """On a random walk of codes the C answers alike, from its header and from memory."""
    raw = spot(controller={"body": "c", "policy": KINDS[kind]})
    raw["controller"] |= {"filter_shift": 2, "release": 0.5, "attack": 2.0, "hold": 3.0}
    answers = alike(Lamp.model_validate(raw))
    assert len(answers) > (1 if kind != "none" else 0)


def test_memory_holds_the_shares():
    """With a table of shares both make the same duties of two channels, which differ."""
    lamp = small_lamp(KINDS["foldback"], sharing={"way": "hottest first"})
    assert any(first != second for _, first, second in alike(lamp))


def alike(lamp):
    """Limits and duties of a random walk, which the C answers alike in both ways."""
    chains, channels = chains_of(lamp), len(lamp.channels)
    body, settings = HostBody(lamp, chains), SettingsMemory(lamp, chains)
    memory = np.zeros(body.memory_size, np.uint8)
    at = ctypes.c_void_p(settings.address)
    body.library.derate_start(at, ctypes.c_void_p(memory.ctypes.data))
    random = np.random.default_rng(1)
    full = 1 << chains[0].sensor.adc.bits
    walk = np.clip(full // 3 + np.cumsum(random.normal(0.0, full / 60, STEPS)), 0, full - 1)
    codes, requests, duties = (np.zeros(n, np.uint16) for n in (1, channels, channels))
    answers = set()
    for code in walk.astype(int):
        codes[0], requests[:] = code, 32768
        answer = body.library.derate_step(
            at, *(ctypes.c_void_p(a.ctypes.data) for a in (memory, codes, requests, duties))
        )
        command = body.step([code], requests)
        assert (command.limit_q15, command.status) == (answer >> 16 & 0xFFFF, answer & 0xFFFF)
        assert command.duties_q15 == tuple(duties.tolist())
        answers.add((command.limit_q15, *command.duties_q15))
    return answers
