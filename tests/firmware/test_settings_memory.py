"""Settings laid out in memory against those compiled into the controller."""

import ctypes

import numpy as np
import pytest

from derate.firmware.header import POLICY_SOURCES
from derate.firmware.host import HostBody
from derate.firmware.settings_memory import POLICIES, SettingsMemory
from derate.lamp.lamp import Lamp
from derate.sensing.chain import chains_of
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
    lamp = Lamp.model_validate(raw)
    chains = chains_of(lamp)
    body, settings = HostBody(lamp, chains), SettingsMemory(lamp, chains)
    memory = np.zeros(body.memory_size, np.uint8)
    at = ctypes.c_void_p(settings.address)
    body.library.derate_start(at, ctypes.c_void_p(memory.ctypes.data))
    random = np.random.default_rng(1)
    full = 1 << lamp.sensors["ntc"].adc.bits
    walk = np.clip(full // 3 + np.cumsum(random.normal(0.0, full / 60, STEPS)), 0, full - 1)
    codes, requests, duties = (np.zeros(1, np.uint16) for _ in range(3))
    answers = set()
    for code in walk.astype(int):
        codes[0], requests[0] = code, 32768
        answer = body.library.derate_step(
            at, *(ctypes.c_void_p(a.ctypes.data) for a in (memory, codes, requests, duties))
        )
        command = body.step([code], [32768])
        assert (command.limit_q15, command.status) == (answer >> 16 & 0xFFFF, answer & 0xFFFF)
        assert command.duties_q15 == (duties[0],)
        answers.add(command.limit_q15)
    assert len(answers) > (1 if kind != "none" else 0)
