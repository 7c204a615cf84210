"""A fuzzer that is guided by coverage finds no course that breaks a promise of the reference C."""

import subprocess

import pytest

from tests.firmware.fuzzing import fuzz, fuzzer
from tests.firmware.subjects import SUBJECTS, needs_gcc

EXECUTIONS = 4000
FUZZED = ("foldback", "predictive", "link")
"""All that is large; `python -m tests.firmware.fuzzing` takes the others too, and longer."""
GUIDED = 100
"""Courses kept, at least, because they went where none had gone."""
STATUS = "*status = flags;"
BREAKS = {
    "AddressSanitizer": "*status = (flags & 0x3C0u) == 0x3C0u"
    " ? (uint16_t)state->policy_memory[flags] : flags;",
    "the safe duty": STATUS + " if ((flags & 0x3D0u) == 0x3D0u) { return 32768u; }",
}
"""They only show when jump, disagreement and stuck are seen at once, one on the second sensor."""


@needs_gcc
@pytest.mark.parametrize("name", FUZZED)
def test_nothing_is_found(name, tmp_path):
    """No sanitizer says a word, no duty is above what it may be, and new ways are found."""
    done = fuzz(fuzzer(tmp_path, name), EXECUTIONS)
    assert done.found is None
    assert done.executions == EXECUTIONS
    assert done.kept > GUIDED


@needs_gcc
@pytest.mark.parametrize("said", BREAKS)
def test_the_fuzzer_bites(said, tmp_path):
    """A hidden stray access or broken promise is found, and the course shows it again."""
    own = []
    for file in SUBJECTS["foldback"].tested:
        text = file.read_text()
        if file.name == "derate.c":
            assert text.count(STATUS) == 1
            text = text.replace(STATUS, BREAKS[said])
        own.append(tmp_path / file.name)
        own[-1].write_text(text)
    program = fuzzer(tmp_path, "foldback", tuple(own))
    found = fuzz(program, EXECUTIONS).found
    assert found is not None
    assert said in found[1]
    again = subprocess.run([program, "found.bin"], cwd=tmp_path, capture_output=True, text=True)
    assert said in again.stderr
