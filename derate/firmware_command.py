"""The command ``derate firmware``: the controller in C on the cores it may run on."""

import argparse
import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING

from derate import progress
from derate.interrupt import held
from derate.telling import EXCEEDED, HELD, command_line, naming, show, tell, tell_of_compiling

if TYPE_CHECKING:
    from derate.lamp import Lamp
    from derate.study.on_target import TargetStudy


def firmware(given: argparse.Namespace) -> int:
    """Build the C for microcontrollers, measure it there and compare it with the host."""
    from derate.lamp import load

    lamp = load(given.lamp)
    tell(f"building the controller of {given.lamp}")
    with held() as stop:
        study = _studied(given, lamp, stop)
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
