"""What of the C is driven by courses of bytes: the controller with each policy, and the line."""

import shutil
import subprocess
from pathlib import Path
from typing import NamedTuple

import pytest

from derate.firmware.build import reference_folder
from derate.firmware.header import POLICY_SOURCES

COURSE = Path(__file__).parent / "course"
LANGUAGE = ("-std=c99",)
SANITIZERS = ("-O1", "-g", "-fsanitize=undefined,address", "-fno-sanitize-recover=all")
LONG_DIVISION = "-DDERATE_LONG_DIVISION"
"""Division as on cores that do not divide."""
needs_gcc = pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")


class Subject(NamedTuple):
    """C under test, and what drives it: files of the courses, and macros."""

    tested: tuple[Path, ...]
    courses: tuple[Path, ...]
    flags: tuple[str, ...]


def _controller(policy: str) -> Subject:
    tested = tuple(reference_folder() / f"{name}.c" for name in ("controller", "derate", policy))
    names = "course", "controller_course", "settings_course", "policy_course"
    courses = tuple(COURSE / f"{name}.c" for name in names)
    return Subject(tested, courses, (f'-DPOLICY_HEADER="{policy}.h"',))


SUBJECTS = {policy: _controller(policy) for policy in POLICY_SOURCES.values()} | {
    "link": Subject((reference_folder() / "link.c",),
                    (COURSE / "course.c", COURSE / "line_course.c"), ())
}  # fmt: skip


def compiled(folder: Path, subject: Subject, main: str, *flags: str, own: tuple[Path, ...] = ()):
    """The program ``main`` of the courses with the C of a subject, or ``own`` in its place."""
    places = [f"-I{place}" for place in (COURSE, reference_folder())]
    files = [COURSE / f"{main}.c", *subject.courses, *(own or subject.tested)]
    command = ["gcc", *LANGUAGE, *flags, *subject.flags, *places, *map(str, files), "-o", main]
    made = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    if made.returncode != 0 and "san" in made.stderr:
        pytest.skip("gcc comes without its sanitizer libraries")
    assert made.returncode == 0, made.stderr
    return folder / main


def answers(program: Path, courses: int) -> list[str]:
    """What so many courses of random bytes answered."""
    command = [program, str(courses)]
    done = subprocess.run(command, cwd=program.parent, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout.split()
