"""The files of the fault matrix: page, figures and summary."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.report import faults_summary as machine
from derate.report.faults_figures import kinds_of
from derate.report.faults_page import page
from derate.report.figures import drawn
from derate.report.folder import place_all, prepare
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.limits.fault_matrix import FaultStudy


def write(
    study: "FaultStudy", folder: Path, doing: Callable[[str], object] = lambda doing: None
) -> tuple[Path, ...]:
    """Write all of the files whole, or none; returns their paths. ``doing`` is told of each."""
    prepare(folder)
    return place_all(folder, _contents(study, doing))


def _contents(study: "FaultStudy", doing: Callable[[str], object]) -> Iterator[tuple[str, bytes]]:
    yield "summary.json", encoded(machine.to_json(study))
    drawings = yield from drawn(kinds_of(study), study, doing)
    yield "faults.html", encoded(page(study, drawings))
