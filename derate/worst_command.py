"""The command ``derate worst``: what no history of requests can surpass."""

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
    from derate.limits.worst.study import Worst


def worst(given: argparse.Namespace) -> int:
    """Bound every limited place over all histories of requests, and show what comes near."""
    folder = prepared(given.out)
    with held() as stop:
        study = _study_of(given, stop)
        from derate.report.worst_memory import remember

        remember(study)
        if folder is not None:
            from derate.report.worst_files import write

            written = write(study, folder)
            tell(f"wrote {len(written)} files to {folder}, worst.html among them")
        from derate.report.worst_summary import to_json
        from derate.report.worst_terminal import print_study

        show(study, to_json, print_study, as_json=given.json)
    return HELD if study.holds else EXCEEDED


def _study_of(given: argparse.Namespace, stop: Callable[[], bool]) -> "Worst":
    """The study that the options ask for, with the command line in its source."""
    from derate.lamp import load

    lamp = load(given.lamp)
    tell(f"bounding {given.lamp} for every history of requests")
    tell_of_compiling()
    from derate.limits.worst.span import span_of
    from derate.limits.worst.study import worst as bounded

    ambient_c = None if given.ambient is None else tuple(given.ambient)
    airflow = None if given.airflow is None else tuple(given.airflow)
    with naming(given.lamp), progress.shown() as doing:
        span = span_of(lamp, ambient_c, airflow)
        study = bounded(lamp, span, corners=not given.nominal, doing=doing, stop=stop)
    return dataclasses.replace(study, source={**study.source, "command": command_line(given)})
