"""No undefined behaviour and no stray access in the C, over a walk of 300 000 steps."""

import shutil
import subprocess
from pathlib import Path

import pytest

from derate.firmware.build import controller_sources, reference_folder
from derate.firmware.header import FILE_NAME, POLICY_SOURCES, settings_header
from tests.control.small_lamp import POLICIES, small_lamp
from tests.firmware.observed import extreme

WALK = Path(__file__).parent / "walk.c"
CHECKS = ("-O1", "-g", "-fsanitize=undefined,address", "-fno-sanitize-recover=all")
SETTINGS = {
    "sensors": 2,
    "filter_shift": 8,
    "attack": "2 1/s",
    "release": "0.5 1/s",
    "hold": "0.2 s",
    "max_jump": "400 K",
    "disagreement": "600 K",
    "stuck": {"drive": 0.3, "off": "1 s", "within": "2 s", "rise": "1 K", "below": "60 degC"},
}


def walk(folder, policy, *edits, lamp=None):
    """Build and run the walk under sanitizers; ``edits`` replace text in derate.c."""
    lamp = lamp or small_lamp(POLICIES[policy], **SETTINGS)
    (folder / FILE_NAME).write_text(settings_header(lamp))
    sources = list(controller_sources(POLICY_SOURCES[POLICIES[policy]["kind"]]))
    text = sources[1].read_text()
    for old, new in edits:
        assert text.count(old) == 1
        text = text.replace(old, new)
    sources[1] = folder / "derate.c"
    sources[1].write_text(text)
    places = [f"-I{folder}", f"-I{reference_folder()}"]
    program = folder / "walk"
    arguments = ["gcc", "-std=c99", *CHECKS, *places, str(WALK), *map(str, sources), "-o", program]
    made = subprocess.run(arguments, capture_output=True, text=True)
    if made.returncode != 0 and "san" in made.stderr:
        pytest.skip("gcc comes without its sanitizer libraries")
    assert made.returncode == 0, made.stderr
    return subprocess.run([program], capture_output=True, text=True)


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
@pytest.mark.parametrize("policy", POLICIES, ids=str)
def test_the_walk_is_clean(policy, tmp_path):
    """Sanitizers find nothing under any policy, and no duty passes request or limit."""
    done = walk(tmp_path, policy)
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
@pytest.mark.parametrize("sign", [1, -1, 0])
def test_the_largest_observer_overflows_nowhere(sign, monkeypatch, tmp_path):
    """With gains that add up to the most that the settings may hold, sanitizers find nothing."""
    done = walk(tmp_path, "predictive", lamp=extreme(sign, monkeypatch))
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
@pytest.mark.parametrize(
    "edit",
    [
        ("uint32_t change = distance(", "int32_t change = 10000000 * (int32_t)distance("),
        ("table->code[high]) {", "table->code[high + 1u]) {"),
    ],
    ids=["overflow", "stray access"],
)
def test_the_sanitizers_bite(edit, tmp_path):
    """An overflow, or a read beyond the table, ends the walk."""
    assert walk(tmp_path, "foldback", edit).returncode != 0
