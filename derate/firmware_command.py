"""The command ``derate firmware``: the controller in C on the cores it may run on."""

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
    from derate.lamp import Lamp
    from derate.study.target_figures import TargetStudy


def firmware(given: argparse.Namespace) -> int:
    """Build the C for microcontrollers, measure it there and compare it with the host."""
    folder = prepared(given.export, "--export")
    from derate.lamp import load

    lamp = load(given.lamp)
    tell(f"building the controller of {given.lamp}")
    with held() as stop:
        study = _studied(given, lamp, stop)
        if folder is not None and study.compared:
            from derate.report.firmware_files import export_files
            from derate.report.table_files import write

            written = write(export_files(study), folder, "--export")
            tell(f"wrote {len(written)} files to {folder}, README.md among them")
        elif folder is not None:
            tell("wrote nothing: firmware that is not fit to run is not exported")
        from derate.report.firmware_summary import to_json
        from derate.report.firmware_terminal import print_study

        show(study, to_json, print_study, as_json=given.json)
    return HELD if study.agrees else EXCEEDED


def _studied(given: argparse.Namespace, lamp: "Lamp", stop: Callable[[], bool]) -> "TargetStudy":
    """The study that the options ask for, with the command line in its source."""
    tell_of_compiling()
    from derate.firmware.target import TARGETS
    from derate.study.on_target import study_targets

    targets = [TARGETS[name] for name in dict.fromkeys(given.target or TARGETS)]
    with naming(given.lamp), progress.shown() as doing:
        study = study_targets(
            lamp, targets, clock_hz=given.clock, rows=given.steps, doing=doing, stop=stop
        )
    return dataclasses.replace(study, source={**study.source, "command": command_line(given)})
