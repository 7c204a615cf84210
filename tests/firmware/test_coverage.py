"""Every line and every branch of the reference C is reached by courses of random bytes."""

import gzip
import json
import shutil
import subprocess
from collections import Counter

import pytest

from derate.firmware.build import reference_folder
from tests.firmware.subjects import (
    LONG_DIVISION,
    SANITIZERS,
    SUBJECTS,
    answers,
    compiled,
    needs_gcc,
)

COURSES = 4000
FEW = 3
"""So few that some of the C stays unseen."""
SANITIZED_COURSES = 600
UNREACHABLE: dict[str, str] = {}
"""Lines, as ``unseen`` tells them, that nothing can reach, and why: so far there are none."""
needs_gcov = pytest.mark.skipif(shutil.which("gcov") is None, reason="no gcov on this machine")


def counted(program):
    """How often each line and branch ran so far: (file, line, branch or -1) to a count."""
    folder = program.parent
    notes = [file.name for file in folder.glob("*.gcda")]
    subprocess.run(["gcov", "-b", "-j", *notes], cwd=folder, check=True, capture_output=True)
    counts: Counter[tuple[str, int, int]] = Counter()
    for found in folder.glob("*.gcov.json.gz"):
        for file in json.loads(gzip.decompress(found.read_bytes()))["files"]:
            for line in file["lines"]:
                ways = [line["count"], *(branch["count"] for branch in line["branches"])]
                for index, count in enumerate(ways):
                    counts[file["file"], line["line_number"], index - 1] += count
    return counts


def unseen(programs, courses):
    """Lines of the reference C that were not run, or not in every direction, over all policies."""
    total: Counter[tuple[str, int, int]] = Counter()
    for program in programs:
        answers(program, courses)
        total.update(counted(program))
    texts = {str(f): f.read_text().splitlines() for f in reference_folder().glob("*.c")}
    assert {file for file, *_ in total} >= set(texts)
    return {
        f"{file.rsplit('/', 1)[-1]}: {texts[file][line - 1].strip()}"
        for (file, line, _), count in total.items()
        if file in texts and count == 0
    }


@needs_gcc
@needs_gcov
def test_every_line_and_branch_is_reached(tmp_path):
    """None is left out but those listed with a reason; what three courses miss is told."""
    programs = []
    for name, subject in SUBJECTS.items():
        (tmp_path / name).mkdir()
        flags = "-O0", "--coverage", LONG_DIVISION
        programs.append(compiled(tmp_path / name, subject, "run_courses", *flags))
    assert len(unseen(programs, FEW)) > 20
    assert unseen(programs, COURSES) == set(UNREACHABLE)


@needs_gcc
@pytest.mark.parametrize("name", SUBJECTS)
def test_courses_are_clean_and_agree(name, tmp_path):
    """Sanitizers find nothing, every promise is kept, and other ways to divide answer alike."""
    checked = compiled(tmp_path, SUBJECTS[name], "run_courses", LONG_DIVISION, *SANITIZERS)
    found = answers(checked, SANITIZED_COURSES)
    assert found == answers(compiled(tmp_path, SUBJECTS[name], "run_courses", "-O2"), len(found))
    assert len(set(found)) > 0.9 * SANITIZED_COURSES
