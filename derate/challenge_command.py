"""The command ``derate challenge``: a search for a history that brings a lamp past its limits."""

import argparse
import dataclasses
import os
from collections.abc import Callable
from typing import TYPE_CHECKING

from derate import progress
from derate.interrupt import held
from derate.telling import (
    EXCEEDED,
    HELD,
    command_line,
    naming,
    prepared,
    show,
    tell,
    tell_of_compiling,
)

if TYPE_CHECKING:
    from derate.lamp import Lamp
    from derate.limits.challenge import Challenge

STORAGE = "HYPOTHESIS_STORAGE_DIRECTORY"


def challenge(given: argparse.Namespace) -> int:
    """Search for a history, an ambient, a unit or a fault that passes a limit."""
    folder = prepared(given.out)
    from derate.firmware.build import cache_folder
    from derate.lamp import load

    # what hypothesis keeps belongs among what we keep, and not where the user stands
    os.environ.setdefault(STORAGE, str(cache_folder().parent / "hypothesis"))

    lamp = load(given.lamp)
    tell(f"challenging {given.lamp}")
    with held() as stop:
        study = _challenged(given, lamp, stop)
        if study.cut_short:
            tell(f"{study.cut_short} before its end: what follows is the worst so far")
        for doubt in study.doubts:
            tell(f"warning: {doubt}")
        if folder is not None:
            from derate.report.challenge_files import write

            with progress.shown() as doing:
                written = write(study, folder, doing)
            tell(f"wrote {len(written)} files and a run to {folder}, challenge.html among them")
        from derate.report.challenge_summary import to_json
        from derate.report.challenge_terminal import print_study

        show(study, to_json, print_study, as_json=given.json)
    return HELD if study.holds else EXCEEDED


def _challenged(given: argparse.Namespace, lamp: "Lamp", stop: Callable[[], bool]) -> "Challenge":
    """The search that the options ask for, with the command line in its source."""
    tell_of_compiling()
    from derate.loop.controllers import interpreted_because

    if reason := interpreted_because(lamp):
        tell(f"{reason}, so each step of it is called by the interpreter, which takes far longer")
    from derate.limits.challenge import Wanted
    from derate.limits.challenge import challenge as challenged

    wanted = Wanted(
        ambient_c=tuple(given.ambient) if given.ambient else None,
        airflow=tuple(given.airflow) if given.airflow else None,
        faults=given.faults,
        corners=given.corners,
        guard_k=given.guard,
        light=given.light,
        effort=given.effort,
        budget_s=given.budget,
        first=given.first,
        seed=given.seed,
    )
    with naming(given.lamp), progress.shown() as doing:
        found = challenged(lamp, wanted, doing=doing, stop=stop)
    return dataclasses.replace(found, source={**found.source, "command": command_line(given)})
