"""The controller on emulated cores: the same commands, nothing outside its memory, counted."""

import tempfile
from pathlib import Path

import numpy as np
import pytest

from derate.errors import FirmwareError, InputError, SurroundingsError
from derate.firmware import target as targets
from derate.firmware import watchdog
from derate.firmware.emulated import EmulatedBody, image_of, processor_for
from derate.firmware.host import HostBody
from derate.firmware.sources import sources_of
from derate.firmware.target import TARGETS
from derate.lamp.profile import Profile
from derate.loop.body import body_for
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK_WITH_HYSTERESIS, PI, PREDICTIVE, small_lamp
from tests.firmware.own_c import needed, own_c, processor_of

STEPS = 400
ALIGNMENT = 16
"""Bytes to which a stack frame is rounded up, at most."""
NOTHING = np.zeros((1, 1), np.uint16), np.zeros((1, 2), np.uint16)
"""One row of codes and requests."""
CORES = tuple(TARGETS)
MOST_CODE, MOST_STACK, MOST_STATE, MOST_INSTRUCTIONS = 1024, 64, 40, 600
"""What foldback with filter and four channels may take on a Cortex-M0: bytes, and of a step."""


def walk(lamp, steps=STEPS, seed=1):
    """Codes and requests of a walk that meets faults and jumps."""
    random = np.random.default_rng(seed)
    codes = 1800 + random.integers(-40, 41, (steps, len(lamp.sensors))).cumsum(axis=0)
    codes[random.random(codes.shape) < 0.03] = 4095
    requests = random.integers(0, 32769, (steps, len(lamp.channels)))
    return codes.clip(0, 65535).astype(np.uint16), requests.astype(np.uint16)


@pytest.mark.parametrize("name", CORES)
@pytest.mark.parametrize("policy", [FOLDBACK_WITH_HYSTERESIS, PI, PREDICTIVE], ids=str)
def test_a_core_commands_what_the_host_commands(name, policy):
    """Answers and duties are bit for bit those of the host, by single steps and by rows."""
    needed(name)
    lamp = small_lamp(policy, sensors=2, filter_shift=3, max_jump="30 K", disagreement="20 K")
    body, host = EmulatedBody(lamp, None, name), HostBody(lamp)
    codes, requests = walk(lamp)
    expected = [host.step(c, r) for c, r in zip(codes, requests, strict=True)]
    assert [body.step(c, r) for c, r in zip(codes, requests, strict=True)] == expected
    body.processor.begin()
    found = body.processor.run(codes, requests)
    assert found.duties.tolist() == [list(command.duties_q15) for command in expected]
    assert (found.answers >> 16).tolist() == [command.limit_q15 for command in expected]


def test_the_closed_loop_runs_on_the_core():
    """A lamp file's body "emulated:thumb" gives the very codes and duties of body "c"."""
    needed("thumb")
    profile = Profile.model_validate({"duration": 60.0, "ambient": 45.0})
    found = []
    for body in ("c", "emulated:thumb"):
        lamp = small_lamp(filter_shift=2, body=body)
        chains = chains_of(lamp)
        recording = Timeline(lamp, profile, body_for(lamp, chains), chains).run()
        found.append((recording.rows["code"], recording.intervals["duties"]))
    for one, other in zip(*found, strict=True):
        np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize("name", CORES)
def test_rows_from_one_state_do_not_meet(name):
    """With ``fresh`` every row begins from the state as it was, and it is as it was afterwards."""
    needed(name)
    step = "duties[0] = (uint16_t)++s->ticks; duties[1] = 0; return 0;"
    core = fresh_core(name, step)
    nothing = np.zeros((300, 1), np.uint16), np.zeros((300, 2), np.uint16)
    assert core.run(*nothing, fresh=True).duties[:, 0].tolist() == [1] * 300
    assert core.run(*nothing).duties[:, 0].tolist() == list(range(1, 301))


def fresh_core(name, step, **text):
    """A core with a controller of this body."""
    with tempfile.TemporaryDirectory() as folder:
        text.setdefault("start", "s->ticks = 0;")
        return processor_of(Path(folder), name, own_c(step, **text))


@pytest.mark.parametrize("name", CORES)
@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("duties[2] = 7; return 0;", "past the end of the duties (4 bytes)"),
        ("((uint8_t *)memory)[4] = 7; return 0;", "1 byte past the end of its state (4 bytes)"),
        (
            "((volatile uint8_t *)memory)[-2] = 7; return 0;",
            "2 bytes before the start of its state",
        ),
    ],
    ids=["duties", "state", "before"],
)
def test_a_stray_write_is_told(name, step, said):
    """Writing one element too far, or before the start, is a sentence with place and size."""
    core = fresh_core(name, step)
    fault = core.run(np.zeros((3, 1), np.uint16), np.zeros((3, 2), np.uint16)).fault
    assert fault is not None
    assert fault.startswith(f"on {name}, ")
    assert said in fault


@pytest.mark.parametrize("name", CORES)
@pytest.mark.parametrize("inputs", ["codes", "requests"])
def test_inputs_may_only_be_read(name, inputs):
    """Writing to codes or requests in spite of their const is told; reading them is not."""
    step = "uint16_t *mine = (uint16_t *)(uintptr_t)%s; mine[0]++; duties[0] = codes[0]; return 0;"
    fault = fresh_core(name, step % inputs).run(*NOTHING).fault
    assert fault.endswith(f" wrote in the {inputs}, which may only be read")


@pytest.mark.parametrize("name", CORES)
def test_a_deep_stack_is_told(name):
    """A controller that needs more stack than there is ends in a sentence."""
    step = """volatile uint8_t deep[4000];
    for (uint16_t i = 0; i < 4000; i++) { deep[i] = 1; }
    duties[0] = deep[17]; return 0;"""
    fault = fresh_core(name, step).run(*NOTHING).fault
    assert fault.startswith(f"on {name}, ")


def test_the_line_that_strayed_is_named():
    """Where the core faults at once, function and line of the C are told."""
    fault = fresh_core("thumb", "duties[2] = 7; return 0;").run(*NOTHING).fault
    assert "controller_step (own.c:12) wrote 1 byte past the end of the duties" in fault


def test_a_controller_that_never_returns_is_given_up(monkeypatch):
    """An endless loop ends in a sentence after some patience."""
    monkeypatch.setattr(watchdog.watch, "__defaults__", (0.1,))
    core = fresh_core("thumb", "for (;;) { *(volatile uint32_t *)memory = 1; }")
    core.one_step()
    with pytest.raises(FirmwareError, match="never returned"):
        core.step_once()


def test_an_impossible_state_is_refused():
    """A size of state that no small controller has is told with what is due."""
    with pytest.raises(FirmwareError, match=r"controller_size\(\) returned 40000; 1 to 32768"):
        fresh_core("thumb", "return 0;", members="uint8_t much[40000];", start="")


def test_static_variables_begin_as_linked():
    """A controller with variables of its own starts over as after a reset."""
    step = "static uint16_t n = 5; duties[0] = n++; duties[1] = 0; return 0;"
    core = fresh_core("riscv32", step)
    row = np.zeros((2, 1), np.uint16), np.zeros((2, 2), np.uint16)
    for _ in range(2):
        core.begin()
        assert core.run(*row).duties[:, 0].tolist() == [5, 6]


def test_the_reference_stays_small():
    """Foldback with filter and four channels on a Cortex-M0: code, state, stack, instructions."""
    needed("thumb")
    lamp = small_lamp(channels=4, filter_shift=4)
    image = image_of(sources_of(lamp, chains_of(lamp)), TARGETS["thumb"])
    core = processor_for(image, TARGETS["thumb"], 1, 4)
    core.paint_stack()
    count = core.count(3 * STEPS)
    core.run(*walk(lamp, 3 * STEPS))
    assert image.code_bytes <= MOST_CODE
    assert core.state_size <= MOST_STATE
    assert 0 < core.stack_used <= MOST_STACK
    assert 100 < count.instructions.min() <= count.instructions.max() <= MOST_INSTRUCTIONS
    assert not image.warnings


def test_what_is_missing_is_named(monkeypatch):
    """Without the packages or the library a sentence says what to install."""
    monkeypatch.setattr(targets, "_installed", lambda module: module != "unicorn")
    with pytest.raises(SurroundingsError, match=r"without unicorn for Python; `pip"):
        EmulatedBody(small_lamp(), None, "thumb")
    monkeypatch.setattr(targets, "_installed", lambda module: True)
    monkeypatch.setattr(targets.shutil, "which", lambda name: None)
    with pytest.raises(SurroundingsError, match="no avr-gcc"):
        EmulatedBody(small_lamp(), None, "avr")


def test_a_file_of_ones_own_that_is_missing_is_named():
    """The key, what was found and what is due."""
    with pytest.raises(InputError, match=r'controller.c\[0\]: found "no.c", due a C file'):
        HostBody(small_lamp(c=["no.c"]))


@pytest.mark.parametrize("name", CORES)
def test_the_stack_is_what_the_step_takes(name):
    """A hundred bytes more of local memory are a hundred bytes more of stack, to their rounding."""
    step = """volatile uint8_t local[%d];
    for (uint8_t i = 0; i < %d; i++) { local[i] = (uint8_t)codes[0]; }
    duties[0] = duties[1] = local[3]; return 0;"""
    used = []
    for size in (16, 116):
        core = fresh_core(name, step % (size, size))
        core.paint_stack()
        core.run(*NOTHING)
        used.append(core.stack_used)
    assert used[0] >= 16
    assert abs(used[1] - used[0] - 100) <= ALIGNMENT


def test_an_access_that_the_core_cannot_do_is_told():
    """A Cortex-M0 stops at a word that is not aligned; counting sees it, with the line of the C."""
    step = "duties[0] = (uint16_t)*(volatile uint32_t *)((uintptr_t)memory + 2u); return 0;"
    core = fresh_core("thumb", step, members="uint32_t ticks, more;")
    core.count(1)
    said = (
        "controller_step (own.c:12) accessed a word or half-word at an address that is no multiple"
    )
    assert said in core.run(*NOTHING).fault
    core = fresh_core("thumb", "duties[0] = codes[0]; duties[1] = 0; return 0;")
    core.count(1)
    assert core.run(*NOTHING).fault is None
