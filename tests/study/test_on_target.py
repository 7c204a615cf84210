"""The controller on cores against the host: differences found, shown, mistakes explained."""

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest

from derate.cli import main
from derate.errors import FirmwareError
from derate.firmware.compare import HostSide
from derate.firmware.emulated import EmulatedBody
from derate.firmware.host import HostBody
from derate.firmware.sanitized import complaint
from derate.firmware.sources import Sources, sources_of
from derate.firmware.target import AVR, THUMB
from derate.lamp import load
from derate.loop.controllers import interpreted_because
from derate.report.firmware_words import (
    dead_zone_words,
    difference_words,
    likely_cause,
    state_lines,
    verdict,
)
from derate.sensing.chain import chains_of
from derate.study.dead_zone import dead_zone
from derate.study.on_target import study_targets
from derate.study.recorded import short_walk
from tests.control.small_lamp import FOLDBACK_WITH_HYSTERESIS, small_lamp
from tests.firmware.own_c import needed, own_c

EXAMPLE = Path(__file__).parents[2] / "sims" / "own_firmware" / "desk_lamp.toml"
ROWS = 690
HALF_CODE_K = 0.15
"""Half a code of the example's 10 bits at 75 degC."""


def example(name, arrangement="pull-down"):
    """The demonstration lamp with one of its firmwares and this divider."""
    changes = {"controller.c": [name], "sensors.ntc.divider.arrangement": arrangement}
    return load(EXAMPLE).with_changes(changes)


def zone_of(lamp):
    """Where the lamp's controller rests."""
    chains = chains_of(lamp)
    return dead_zone(HostSide(HostBody(lamp, chains)), chains)


def test_the_reference_agrees_and_is_measured():
    """Host and core agree over walk and every code; figures are there and in order."""
    needed("thumb")
    study = study_targets(small_lamp(channels=4, filter_shift=4), [THUMB], rows=ROWS)
    (core,) = study.cores
    assert study.agrees
    assert verdict(study).startswith("host and thumb agree bit for bit over ")
    assert study.compared["a random walk"] > ROWS + 4096
    for spread in (core.instructions, core.cycles):
        assert 0 < spread.least <= spread.typical <= spread.most
    assert core.cycles.least > core.instructions.least
    assert study.share_of_tick(core) == core.cycles.most / 8e6 / 0.1


@pytest.fixture(scope="module")
def overflowing():
    """The study of the firmware that overflows on an AVR."""
    needed("thumb")
    needed("avr")
    return study_targets(example("overflow.c"), [THUMB, AVR], rows=ROWS)


def test_an_overflow_on_one_core_is_found(overflowing):
    """Arithmetic in int is right on 32 bits and wrong on the AVR; the first step is told."""
    study = overflowing
    thumb, avr = study.cores
    assert thumb.agrees
    assert not study.agrees
    one = avr.difference
    assert one.inputs == "profile evening"
    assert one.expected.limit_q15 != one.found.limit_q15
    assert "first at step" in difference_words(study, avr)
    assert [line.split()[0] for line in state_lines(one, "avr")] == ["host", "avr"]
    assert verdict(study) == "the host and avr differ: what was tuned is not what would run"
    assert likely_cause(study).startswith("it differs where int has 16 bits: look for a product")
    right = dataclasses.replace(avr, difference=None)
    assert likely_cause(dataclasses.replace(study, cores=(thumb, right))) is None
    both = dataclasses.replace(thumb, difference=one)
    assert likely_cause(dataclasses.replace(study, cores=(both, avr))) is None


def test_the_first_difference_is_the_first(overflowing):
    """Codes before the one that is told are answered alike, that one is not."""
    one = overflowing.cores[1].difference
    lamp = example("overflow.c")
    host, core = HostBody(lamp), EmulatedBody(lamp, None, "avr")
    assert host.step(one.codes, one.requests_q15) != core.step(one.codes, one.requests_q15)
    for code in range(600, one.codes[0]):  # warming, codes rise
        assert host.step([code], one.requests_q15) == core.step([code], one.requests_q15)


@pytest.mark.parametrize(
    ("arrangement", "late", "back", "reads"),
    [("pull-down", 15, 0, "too cold"), ("pull-up", 0, 15, "too hot")],
)
def test_a_stalling_filter_is_explained(arrangement, late, back, reads):
    """A shift by 4 stops up to 15 codes short, on the side that the divider makes of it."""
    zone = zone_of(example("stalling.c", arrangement))
    assert (zone.late_codes, zone.back_codes) == (late, back)
    kelvin_a_code = zone.width_k / 15
    assert zone.width_k == pytest.approx(2.6, abs=HALF_CODE_K)
    assert 0.1 < kelvin_a_code < 0.25
    words = dead_zone_words(zone)
    assert reads in words
    assert "as a shift by 4 does" in words


def test_strict_comparisons_are_explained():
    """A degree in which neither > nor < acts is a dead zone of that degree."""
    zone = zone_of(example("latch.c"))
    assert zone.levels == 2
    assert zone.width_k == pytest.approx(1.0, abs=HALF_CODE_K)
    assert "> and < where one needs >=" in dead_zone_words(zone)


def test_a_controller_without_history_has_no_dead_zone():
    """The overflowing example is right on the host and rests at the same limit either way."""
    zone = zone_of(example("overflow.c"))
    assert zone.width_k == 0.0
    assert "the same limit" in dead_zone_words(zone)


def test_the_hysteresis_of_the_reference_is_measured():
    """The dead zone of a foldback with 3 K of hysteresis is 3 K wide, to a code or two."""
    chains = chains_of(lamp := small_lamp(FOLDBACK_WITH_HYSTERESIS, clear_after="0 s", bits=10))
    zone = dead_zone(HostSide(HostBody(lamp, chains)), chains)
    assert zone.late_k == 0.0
    assert zone.back_k == pytest.approx(3.0, abs=2 * HALF_CODE_K)


def test_a_latch_that_never_releases_is_told(tmp_path):
    """Light that does not come back down to the coldest code is called a latch."""
    lamp = own_lamp(
        tmp_path,
        "if (codes[0] < 1000) { s->ticks = 1; }"
        " duties[0] = duties[1] = 0; return s->ticks ? 0 : (uint32_t)32768 << 16;",
        start="s->ticks = 0;",
    )
    zone = zone_of(lamp)
    assert zone.latched
    assert "gives no light back" in dead_zone_words(zone)


def own_lamp(folder, step, **text):
    """The small lamp with a controller of this body."""
    file = folder / "own.c"
    file.write_text(own_c(step, **text), encoding="utf-8")
    return small_lamp(c=[str(file)])


def test_firmware_that_strays_never_runs_in_this_process(tmp_path):
    """What a core catches is told, and nothing is compared."""
    needed("thumb")
    study = study_targets(own_lamp(tmp_path, "duties[2] = 7; return 0;"), [THUMB], rows=ROWS)
    assert not study.agrees
    assert not study.compared
    assert verdict(study).startswith("not fit to run: on thumb, controller_step (own.c:12) wrote")


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("((uint8_t *)memory)[4] = 7; return 0;", "heap-buffer-overflow (own.c:12)"),
        ("int32_t n = 2147483647; return (uint32_t)(n + (int32_t)codes[0]);", "signed integer"),
        ("((uint16_t *)(uintptr_t)codes)[0]++; return 0;", "write to the codes, which are const"),
    ],
)
def test_sanitizers_say_what_they_find(step, said, tmp_path):
    """Out of bounds, overflow and a write to an input on the host are sentences."""
    lamp = own_lamp(tmp_path, step)
    chains = chains_of(lamp)
    found = complaint(sources_of(lamp, chains), short_walk(lamp, chains, 50))
    assert found.startswith("on the host under sanitizers: ")
    assert said in found
    clean = Sources((tmp_path / "own.c",), {}, "", True)
    (tmp_path / "own.c").write_text(own_c(), encoding="utf-8")
    assert complaint(clean, short_walk(lamp, chains, 50)) is None


def test_the_walk_covers_codes_and_requests():
    """Rails, faults and the middle are met, and requests above full."""
    walk = short_walk(small_lamp(), chains_of(small_lamp()), 20_000)
    assert walk.codes.min() == 0
    assert walk.codes.max() == 4095
    assert len(np.unique(walk.codes)) > 2000
    assert walk.requests.max() > 32768


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
def test_firmware_that_strays_is_not_loaded_by_a_run(tmp_path):
    """The closed loop on the host refuses it before it runs in this process."""
    with pytest.raises(FirmwareError, match="heap-buffer-overflow"):
        HostBody(own_lamp(tmp_path, "duties[2] = 7; return 0;"))


def test_the_closed_loop_on_a_core_looks_at_its_paint(tmp_path):
    """A write before the state, which no page catches, ends the loop within some steps."""
    needed("avr")
    step = "((uint8_t volatile *)memory)[-2] = 7; duties[0] = duties[1] = 0; return 0;"
    body = EmulatedBody(own_lamp(tmp_path, step), None, "avr")
    with pytest.raises(FirmwareError, match="2 bytes before the start of its state"):
        [body.step([2000], [1, 2]) for _ in range(300)]


def test_the_batch_clock_calls_a_core_by_the_interpreter():
    """A core is told to be slow, and C on the host is not, one's own neither."""
    assert interpreted_because(small_lamp(body="emulated:thumb")) is not None
    assert interpreted_because(small_lamp(c=["own.c"])) is None


def test_a_file_that_is_missing_is_told_by_check(tmp_path, capsys):
    """`derate check` names the key of a C file that is not there."""
    text = EXAMPLE.read_text(encoding="utf-8").replace('"overflow.c"', '"gone.c"')
    (tmp_path / "lamp.toml").write_text(text, encoding="utf-8")
    assert main(["check", str(tmp_path / "lamp.toml")]) == 2
    assert 'controller.c[0]: found "gone.c", due a C file' in capsys.readouterr().err


def test_firmware_that_one_core_cannot_compile_is_told(tmp_path):
    """A header that a bare core does not have is the fault of that core's build, in a sentence."""
    needed("thumb")
    lamp = own_lamp(tmp_path, "return 0;")
    file = tmp_path / "own.c"
    file.write_text("#include <pthread.h>\n" + file.read_text(encoding="utf-8"), encoding="utf-8")
    study = study_targets(lamp, [THUMB], rows=ROWS)
    assert "cannot compile the controller" in study.cores[0].fault
    assert "pthread.h" in verdict(study)
