"""The command ``derate faults``: every fault at every moment, and the cut-out beside it."""

import argparse
import dataclasses
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
    from derate.limits.fault_matrix import FaultStudy


def faults(given: argparse.Namespace) -> int:
    """Try every fault at every moment, judge the independent cut-out, see what shows early."""
    folder = prepared(given.out)
    with held() as stop:
        study = _study_of(given, stop)
        for warning in study.warnings:
            tell(f"warning: {warning}")
        if folder is not None:
            from derate.report.faults_files import write

            with progress.shown() as doing:
                written = write(study, folder, doing)
            tell(f"wrote {len(written)} files to {folder}, faults.html among them")
        from derate.report.faults_summary import to_json
        from derate.report.faults_terminal import print_study

        show(study, to_json, print_study, as_json=given.json)
    return HELD if study.held else EXCEEDED


def _study_of(given: argparse.Namespace, stop: Callable[[], bool]) -> "FaultStudy":
    """The faults of the lamp that the options name, with the command line in their source."""
    from derate.lamp import load

    lamp = load(given.lamp)
    tell(f"trying every fault on {given.lamp}")
    tell_of_compiling()
    from derate.limits.fault_matrix import study_faults

    with naming(given.lamp), progress.shown() as doing:
        study = study_faults(lamp, workers=given.workers, seed=given.seed, doing=doing, stop=stop)
    return dataclasses.replace(study, source={**study.source, "command": command_line(given)})
