"""What a search leaves behind: the counterexample as a mission profile, its unit, run and page."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import tomli_w

from derate import __version__
from derate.limits.challenge import keys_of_finding
from derate.report.challenge_page import page
from derate.report.challenge_summary import to_json
from derate.report.challenge_words import told
from derate.report.figures import KINDS, drawn
from derate.report.files import write as write_run
from derate.report.folder import place_all, prepare
from derate.report.spread_worst import unit_keys
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.limits.challenge import Challenge

PROFILE = "counterexample.toml"
UNIT = "unit.toml"
RUN = "run"
SHOWN = ("overview", "sensing")
"""Figures of the run that the page shows."""


def write(
    study: "Challenge", folder: Path, doing: Callable[[str], object] = lambda doing: None
) -> tuple[Path, ...]:
    """Write page, profile, summary, and the report of the replay in a folder within.

    Also the lamp file of the unit where tolerances were moved, unless the lamp was built in Python.
    All of the files appear whole, or none. Returns the paths of those beside the page.
    """
    prepare(folder)
    written = place_all(folder, _contents(study, doing))
    doing("drawing the run")
    write_run(study.replay, folder / RUN)
    return written


def again(study: "Challenge") -> str:
    """The command that replays the finding, in the folder of its files."""
    lamp = study.lamp.source.name if study.lamp.source else "LAMP"
    lamp = UNIT if _has_unit(study) else lamp
    seed = f" --seed {study.wanted.seed}" if study.wanted.seed else ""
    return f"derate run {lamp} --profile {PROFILE}{seed}"


def _has_unit(study: "Challenge") -> bool:
    return bool(study.lamp.keys) and study.found.surroundings.unit.draws is not None


def _contents(study: "Challenge", doing: Callable[[str], object]) -> Iterator[tuple[str, bytes]]:
    yield "summary.json", encoded(to_json(study))
    yield PROFILE, encoded(_profile_text(study))
    if _has_unit(study):
        yield UNIT, encoded(_unit_text(study))
    kinds = [kind for kind in KINDS if kind.name in SHOWN]
    drawings = yield from drawn(kinds, study.replay, doing)
    yield "challenge.html", encoded(page(study, kinds, drawings, again(study)))


def _profile_text(study: "Challenge") -> str:
    keys = {"about": f"{told(study)}.", **keys_of_finding(study.found, study.space)}
    return (
        f"# Found by derate challenge {__version__}: the nearest that a search came to a limit of\n"
        f"# {study.lamp.name}. A search is no proof.\n"
        f"# Run it again: {again(study)}\n\n" + tomli_w.dumps(keys)
    )


def _unit_text(study: "Challenge") -> str:
    unit = study.found.surroundings.unit
    assert unit.draws is not None
    raw = unit_keys(study.lamp, unit.draws, unit.number)
    raw.pop("profiles", None)
    return (
        f"# The {unit.name} of the tolerances of {study.lamp.name}, by derate {__version__}.\n"
        "# A firmware limit is no substitute for an independent hardware cut-out; measure.\n\n"
        + tomli_w.dumps(raw)
    )
