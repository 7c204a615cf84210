"""The command ``derate spread``: units drawn within the lamp's tolerances."""

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
    profile_asked,
    show,
    tell,
    tell_of_compiling,
)

if TYPE_CHECKING:
    from derate.study.spread import Spread
    from derate.study.spread_runners import Runner


def spread(given: argparse.Namespace) -> int:
    """Run many units drawn within the lamp's tolerances, and tell which tolerance matters."""
    folder = prepared(given.out)
    with held() as stop:
        study = _spread_of(given, stop)
        for warning in study.warnings:
            tell(f"warning: {warning}")
        if study.over.drawn < study.asked:
            tell(f"stopped: these are {study.over.drawn} of the {study.asked} units asked for")
        if folder is not None:
            from derate.report.spread_files import write

            with progress.shown() as doing:
                written = write(study, folder, doing)
            tell(f"wrote {len(written)} files to {folder}, spread.html among them")
        from derate.report.spread_summary import to_json
        from derate.report.spread_terminal import print_study

        show(
            study,
            to_json,
            lambda subject, out: print_study(subject, out, saved=folder is not None),
            as_json=given.json,
        )
    return HELD if study.held else EXCEEDED


def _spread_of(given: argparse.Namespace, stop: Callable[[], bool]) -> "Spread":
    """The units that the options ask for, with the command line in their source."""
    from derate.lamp import load

    lamp = load(given.lamp)
    name, profile = profile_asked(lamp, given)
    tell(f"running {given.units} units of {given.lamp} through {name}")
    tell_of_compiling()
    from derate.loop.controllers import interpreted_because
    from derate.study.spread import study_spread

    if reason := interpreted_because(lamp):
        tell(f"{reason}, so each step of it is called by the interpreter, which takes far longer")

    with naming(given.lamp), progress.shown() as doing:
        study = study_spread(
            lamp,
            profile,
            profile_name=name,
            units=given.units,
            seed=given.seed,
            guard_k=given.guard,
            runner=_runner(given),
            doing=doing,
            stop=stop,
        )
    return dataclasses.replace(study, source={**study.source, "command": command_line(given)})


def _runner(given: argparse.Namespace) -> "Runner":
    """Where the options let the units run."""
    from derate.study.spread_runners import here, on_cluster, on_processes

    if given.cluster:
        return on_cluster(given.cluster)
    return on_processes(given.workers) if given.workers > 1 else here
