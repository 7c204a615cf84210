"""A coverage-guided fuzzer over courses; run as a program it fuzzes every subject for longer.

The argument is the number of executions a subject, 100000 if there is none.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from tests.firmware.subjects import COURSE, LONG_DIVISION, SANITIZERS, SUBJECTS, compiled

EXECUTIONS = 100_000
STOP = {"ASAN_OPTIONS": "abort_on_error=1:handle_abort=0", "UBSAN_OPTIONS": "abort_on_error=1"}
"""A sanitizer that complains aborts, so that the course is written down."""


class Fuzzed(NamedTuple):
    """What the fuzzer did; ``found``: the course that broke something, and what was said."""

    executions: int
    kept: int
    ways: int
    found: tuple[bytes, str] | None


def fuzzer(folder: Path, name: str, own: tuple[Path, ...] = ()) -> Path:
    """The program that fuzzes a subject, or ``own`` C in its place, under sanitizers."""
    command = ["gcc", "-std=c99", "-O2", f"-I{COURSE}", "-c", str(COURSE / "edges.c")]
    subprocess.run(command, cwd=folder, check=True)
    flags = ("-fsanitize-coverage=trace-pc", LONG_DIVISION, *SANITIZERS)
    files = (folder / "edges.o", *(own or SUBJECTS[name].tested))
    return compiled(folder, SUBJECTS[name], "fuzz", *flags, own=files)


def fuzz(program: Path, executions: int, seed: int = 1) -> Fuzzed:
    """So many courses; the same for the same seed, program and compiler."""
    command = [program, str(executions), str(seed)]
    environment = os.environ | STOP
    done = subprocess.run(
        command, cwd=program.parent, env=environment, capture_output=True, text=True
    )
    if done.returncode != 0:
        found = program.parent / "found.bin"
        return Fuzzed(0, 0, 0, (found.read_bytes() if found.exists() else b"", done.stderr))
    return Fuzzed(*map(int, done.stdout.split()), None)


if __name__ == "__main__":
    for each in SUBJECTS:
        with tempfile.TemporaryDirectory() as place:
            print(each, fuzz(fuzzer(Path(place), each), *map(int, sys.argv[1:] or [EXECUTIONS])))
