"""The static analyser finds nothing in the reference C."""

import shutil
import subprocess

import pytest

from derate.firmware.build import reference_folder
from tests.firmware.subjects import COURSE, SUBJECTS

LOOKS = ("--std=c99", "--enable=warning,style,performance,portability", "--quiet")
"""All kinds of findings but functions that are never used: those that a lamp calls are not."""
needs_cppcheck = pytest.mark.skipif(
    shutil.which("cppcheck") is None, reason="no cppcheck on this machine: apt-get install cppcheck"
)


def findings(files, flags):
    """What the analyser says of these files."""
    places = [f"-I{place}" for place in (COURSE, reference_folder())]
    command = ["cppcheck", *LOOKS, *flags, *places, *map(str, files)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stderr


@needs_cppcheck
@pytest.mark.parametrize("name", SUBJECTS)
def test_nothing_is_found(name):
    """With every policy, and in the board's end of the line."""
    assert findings(SUBJECTS[name].tested, SUBJECTS[name].flags) == ""


@needs_cppcheck
def test_the_analyser_bites(tmp_path):
    """A variable that is read before it is set is found."""
    text = (reference_folder() / "derate.c").read_text()
    assert text.count("unsigned low = 0u;") == 1
    changed = tmp_path / "derate.c"
    changed.write_text(text.replace("unsigned low = 0u;", "unsigned low;"))
    assert "uninitvar" in findings([changed], SUBJECTS["foldback"].flags)
