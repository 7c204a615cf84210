"""The files of an operating point: page, figures, summary and the derating curve."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.report import point_summary as machine
from derate.report.figures import drawn
from derate.report.folder import place_all, prepare
from derate.report.point_figures import kinds_of
from derate.report.point_page import page
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.study.point import PointStudy


def report_files(
    study: "PointStudy", doing: Callable[[str], object] = lambda doing: None
) -> dict[str, bytes]:
    """Name and bytes of summary.json, derating.csv, figures as SVG and PNG, and point.html.

    ``doing`` is told what is being done.
    """
    return dict(_contents(study, doing))


def write(files: dict[str, bytes], folder: Path) -> tuple[Path, ...]:
    """Write all of the files whole, or none; returns their paths."""
    prepare(folder)
    return place_all(folder, files.items())


def _contents(study: "PointStudy", doing: Callable[[str], object]) -> Iterator[tuple[str, bytes]]:
    """Name and bytes of each file, made one after the other."""
    yield "summary.json", encoded(machine.to_json(study))
    yield "derating.csv", encoded(machine.derating_csv(study.derating))
    drawings = yield from drawn(kinds_of(study), study, doing)
    yield "point.html", encoded(page(study, drawings))
