"""Tries mutants of the reference C by courses; run as a program it checks the list of survivors.

An argument is the number of courses: more find more.
"""

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from derate.firmware.build import reference_folder
from tests.firmware.mutants import Change, Mutant, all_in_one, change_of, mutants_of
from tests.firmware.subjects import LONG_DIVISION, SANITIZERS, SUBJECTS, compiled

KNOWN = Path(__file__).parent / "surviving_mutants.txt"
COURSES = 2500
SANITIZED_COURSES = 150
PLAIN = ("-O0",)
HOMES = {
    "foldback": ("controller", "derate", "foldback"),
    "predictive": ("predictive",),
    "steps": ("steps",),
    "pi": ("pi",),
    "open_loop": ("open_loop",),
    "link": ("link",),
}
"""What of the C is mutated in which subject."""
SHARE_OF_COURSES = {"link": 0.1}
"""Whose courses take longer, and soon meet all."""
SECOND = {"foldback": "predictive"}
"""Who tries the survivors of another once more."""

Mutants = dict[Path, list[Mutant]]


def made(home: str) -> Mutants:
    """All mutants that are tried in a subject, by file."""
    files = [reference_folder() / f"{name}.c" for name in HOMES[home]]
    return {file: mutants_of(file.read_text()) for file in files}


def surviving(home: str, courses: int = COURSES) -> Mutants:
    """Those unnoticed: all answers the same, no promise broken, not a word from sanitizers."""
    count = int(courses * SHARE_OF_COURSES.get(home, 1.0))
    left = _unnoticed(home, made(home), count, PLAIN)
    if home in SECOND:
        left = _unnoticed(SECOND[home], left, count, PLAIN)
    return _unnoticed(home, left, SANITIZED_COURSES, SANITIZERS)


def changes(mutants: Mutants) -> Iterator[Change]:
    """How mutants read."""
    for file, some in mutants.items():
        for mutant in some:
            yield change_of(file.name, file.read_text(), mutant)


def known() -> dict[Change, str]:
    """The survivors that are known, each with the reason why nothing can notice it."""
    found = {}
    for block in KNOWN.read_text().split("\n\n")[1:]:
        place, *lines = block.strip().splitlines()
        pairs = [line for line in lines if line[:2] in ("- ", "+ ")]
        why = " ".join(line.strip() for line in lines if line not in pairs)
        for before, after in zip(pairs[::2], pairs[1::2], strict=True):
            found[Change(place, before[2:], after[2:])] = why
    return found


def _unnoticed(name: str, mutants: Mutants, courses: int, flags: tuple[str, ...]) -> Mutants:
    subject = SUBJECTS[name]
    flat = [(file, mutant) for file in subject.tested for mutant in mutants.get(file, [])]
    if not flat:
        return mutants
    with tempfile.TemporaryDirectory() as folder:
        own, first = [], 1
        for file in subject.tested:
            some = mutants.get(file, [])
            own.append(Path(folder) / file.name)
            own[-1].write_text(all_in_one(file.read_text(), some, first))
            first += len(some)
        flags = ("-w", LONG_DIVISION, *flags)
        program = compiled(Path(folder), subject, "try_mutants", *flags, own=tuple(own))
        numbers = [str(number) for number in range(1, first)]
        done = subprocess.run([program, str(courses), *numbers], capture_output=True, text=True)
        assert done.returncode == 0, (done.returncode, done.stderr)
    left = {int(number) - 1 for number in done.stdout.split()}
    kept: Mutants = {file: [] for file in mutants}
    kept |= {file: some for file, some in mutants.items() if file not in subject.tested}
    for index in sorted(left):
        kept[flat[index][0]].append(flat[index][1])
    return kept


if __name__ == "__main__":
    gone = set(known())
    for each in HOMES:
        for change in changes(surviving(each, *map(int, sys.argv[1:]))):
            if change not in known():
                print(f"{change.place}\n- {change.before}\n+ {change.after}\n")
            gone.discard(change)
    for change in sorted(gone):
        print(f"listed, but no survivor: {change.place}\n- {change.before}\n+ {change.after}\n")
