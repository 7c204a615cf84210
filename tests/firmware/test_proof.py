"""What the reference controller promises, proved for every input by Frama-C's WP.

The contracts stand in firmware_ref/, in comments that start with ``@``. A function that is not in
``PROVED`` claims nothing.
"""

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from derate.firmware.build import reference_folder

TOOLS = ("frama-c", "why3", "cvc4")
MISSING = [tool for tool in TOOLS if shutil.which(tool) is None]
needs_tools = pytest.mark.skipif(
    bool(MISSING),
    reason=f"the proof needs {', '.join(MISSING)}: apt-get install frama-c-base why3 cvc4",
)
POLICY = (
    "derate_policy_start",
    "derate_policy_limit",
    "derate_policy_driven",
    "derate_policy_check",
)
PROVED = {
    "foldback": (*POLICY, "share_left"),
    "steps": POLICY,
    "open_loop": POLICY,
    "pi": (*POLICY, "scaled", "times"),
    "derate, sensing": (
        "distance",
        "smaller",
        "part_of",
        "reading_of",
        "sense",
        "hottest",
        "stuck",
        "faults",
        "filter",
    ),
    "derate, limit": ("ramp", "share_of", "product_q15", "drive", "limit", "count_drive"),
    "derate, step": ("compared", "sense_all", "answer_of", "run", "derate_step"),
    "derate, start": (
        "goes_on",
        "table_works",
        "shares_work",
        "reaches",
        "derate_check",
        "derate_start",
    ),
}
"""Functions of which every goal is proved: contract, loops, no run-time error. By file, and what
of it is proved in one go."""
POLICY_WORDS = 65026
"""The most that any policy has: 255 channels by 255 lags, and one (predictive.h)."""
SECONDS_A_GOAL = 60
"""On the wall; nearly all take a tenth of a second, the slowest some seconds on a busy machine."""
FRAMES = "still_sound.h"
"""Lemmas for these alone: where they are not needed they lead the prover astray."""
FRAMED = ("derate, step",)
COUNT = re.compile(r"Proved goals:\s*(\d+) / (\d+)")


def prove(source, chosen, folder, more=()):
    """(proved, all goals, output) of what is ``chosen`` by Frama-C's options in a C file."""
    settings = folder / "why3.conf"
    subprocess.run(["why3", "-C", settings, "config", "detect"], capture_output=True, check=True)
    places = f"-I{reference_folder()}"
    if source.name == "derate.c":
        here = Path(__file__).parent
        places += "".join(f" -include {here / name}" for name in ("any_policy.h", *more))
    command = ["frama-c", "-wp", "-wp-rte", "-warn-unsigned-overflow", "-wp-par", "2"]
    command += ["-wp-timeout", str(SECONDS_A_GOAL), "-wp-session", str(folder / "session")]
    command += chosen
    command += [f"-cpp-extra-args={places} -DDERATE_POLICY_MEMORY={POLICY_WORDS}", str(source)]
    # Where the provers are is written down in a folder of this test, not at home.
    surroundings = os.environ | {"WHY3CONFIG": str(settings)}
    done = subprocess.run(command, cwd=folder, env=surroundings, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    found = COUNT.search(done.stdout)
    assert found, done.stdout
    return int(found[1]), int(found[2]), done.stdout


def of(functions):
    """Options that choose the goals of these functions. A second prover found nothing more."""
    return ["-wp-fct", ",".join(functions), "-wp-prover", "cvc4"]


LEMMAS = ["-wp-prop", "@lemma", "-wp-prover", "tip,cvc4", "-wp-auto", "wp:range"]
"""With a tactic that looks at each value of a shift."""


@needs_tools
@pytest.mark.slow
@pytest.mark.parametrize("part", PROVED)
def test_every_goal_is_proved(part, tmp_path):
    """By the tool's own count; none by an axiom, and each function has a contract."""
    source = reference_folder() / f"{part.split(',')[0]}.c"
    headers = reference_folder().glob("*.h")
    text = source.read_text() + "".join(header.read_text() for header in headers)
    for function in PROVED[part]:
        assert re.search(rf"; \*/\n(static |enum )?\w+ {function}\(", text), (
            f"{function}: no contract"
        )
    assert not re.search(r"\b(axiom|axiomatic|admit)\b", text)
    more = (FRAMES,) if part in FRAMED else ()
    proved, goals, output = prove(source, of(PROVED[part]), tmp_path, more)
    assert goals > 0
    assert proved == goals, output


def lemmas():
    """How many lemmas stand in each file, those that have none left out."""
    paths = (*reference_folder().glob("*.[ch]"), Path(__file__).parent / FRAMES)
    counts = {path.name: len(re.findall(r"\blemma\b", path.read_text())) for path in paths}
    return {name: count for name, count in counts.items() if count}


@needs_tools
@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "more"), [("derate.c", (FRAMES,)), ("pi.c", ())], ids=["derate", "pi"]
)
def test_every_lemma_is_proved(name, more, tmp_path):
    """In a file and what it includes; there is none elsewhere."""
    count = lemmas()
    assert set(count) == {"derate.c", "pi.c", "derate.h", FRAMES}
    proved, goals, output = prove(reference_folder() / name, LEMMAS, tmp_path, more)
    assert goals == sum(count[one] for one in (name, "derate.h", *more))
    assert proved == goals, output


@needs_tools
@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "function", "right", "wrong"),
    [
        ("derate.c", "limit", "if (reading >= settings", "if (reading > settings"),
        ("derate.c", "product_q15", "a * b / DERATE_ONE_Q15", "a * b / DERATE_ONE_Q15 + 1u"),
    ],
    ids=["cut-off", "rounding"],
)
def test_a_planted_fault_is_not_proved(name, function, right, wrong, tmp_path, monkeypatch):
    """`>` for `>=` at the cut-off, or a duty one too high, leaves goals open."""
    monkeypatch.setattr(f"{__name__}.SECONDS_A_GOAL", 1)
    text = (reference_folder() / name).read_text()
    assert text.count(right) == 1
    copy = tmp_path / name
    copy.write_text(text.replace(right, wrong))
    proved, goals, _ = prove(copy, of([function]), tmp_path)
    assert 0 < proved < goals
