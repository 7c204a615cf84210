"""Standard output that is full, closed or not Unicode, and names that are no UTF-8."""

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from derate.cli import WRONG
from derate.lamp import starter_text

ROOT = Path(__file__).parents[2]
SHORT_BYTES = 2048
"""Less than the starter file: writing it must fail."""


def derate(*words, shell="", **more):
    """The command line in a process of its own; ``shell`` is what follows it there."""
    words = ["sh", "-c", f'"$@" {shell}', "sh", sys.executable, "-m", "derate", *words]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    return subprocess.run(words, env=environment, capture_output=True)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("words", [["check", "lamp.toml"], ["--help"], ["--version"]])
def test_a_full_disk_is_told(words, buffered, folder):
    """What cannot be written is no exceeded limit: one sentence and status 2."""
    done = derate(*words, shell=">/dev/full", PYTHONUNBUFFERED="" if buffered else "1")
    assert done.returncode == WRONG
    assert done.stderr == b"derate: standard output cannot be written: no space left on device\n"


@pytest.mark.parametrize("words", [["check", "lamp.toml"], ["--version"]])
def test_a_closed_output_is_told(words, folder):
    """Without standard output there is no result: one sentence and status 2."""
    done = derate(*words, shell=">&-")
    assert done.returncode == WRONG
    assert done.stderr == b"derate: standard output is closed, and results go there\n"


def test_a_closed_standard_error_keeps_results_clean(folder):
    """Words for standard error never end up among the results."""
    words = ["run", "lamp.toml", "--profile", "short.toml", "--json"]
    done = derate(*words, shell="2>&-")
    assert done.returncode == 0
    assert json.loads(done.stdout)["profile"] == "short"


def test_results_in_a_terminal_without_unicode(folder):
    """Signs that the terminal lacks are escaped; JSON is UTF-8 wherever it goes."""
    text = (folder / "lamp.toml").read_text(encoding="utf-8")
    named = text.replace('name = "Invented hand torch"', 'name = "Lämp \N{BLACK SUN WITH RAYS}"')
    assert named != text
    (folder / "named.toml").write_text(named, encoding="utf-8")
    words = ["run", "named.toml", "--profile", "short.toml"]
    table = derate(*words, PYTHONIOENCODING="ascii")
    assert (table.returncode, table.stdout.startswith(b"L\\xe4mp \\u2600, profile")) == (0, True)
    document = derate(*words, "--json", PYTHONIOENCODING="latin-1")
    assert json.loads(document.stdout.decode("utf-8"))["lamp"] == "Lämp \N{BLACK SUN WITH RAYS}"


def test_a_file_name_that_is_not_utf8(folder):
    """The results of a lamp file with an odd name are written, the name as an escape."""
    odd = os.fsencode(str(folder)) + b"/\xff.toml"
    with open(odd, "wb") as file:
        file.write((folder / "lamp.toml").read_bytes())
    done = derate("run", odd, "--profile", "short.toml", "--out", "o")
    assert done.returncode == 0, done.stderr
    provenance = json.loads((folder / "o" / "summary.json").read_text(encoding="utf-8"))[
        "provenance"
    ]
    assert provenance["lamp_file"] == r"\udcff.toml"
    assert r"\udcff.toml" in (folder / "o" / "report.html").read_text(encoding="utf-8")


def test_new_leaves_no_half_file(folder):
    """Where the starter file does not fit, none is left, and a second try may use the name."""
    assert len(starter_text()) > SHORT_BYTES
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (SHORT_BYTES, limits[1]))
    try:
        done = derate("new", "half.toml")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert done.returncode == WRONG
    assert done.stderr == b"derate: half.toml cannot be written: file too large\n"
    assert not [path.name for path in folder.iterdir() if "half" in path.name]
