"""The files of an operating point: page, figures, summary and the derating curve."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.report import point_summary as machine
from derate.report.figures import inlined, png_of, svg_of
from derate.report.folder import place_all, prepare
from derate.report.point_figures import kinds_of
from derate.report.point_page import page
from derate.report.words import encoded, typeset

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
    drawings = {}
    for kind in kinds_of(study):
        doing(f"drawing {kind.heading[0].lower()}{kind.heading[1:]}")
        figure = kind.draw(study)
        svg = svg_of(figure)
        drawings[kind.name] = inlined(svg, kind.name, typeset(kind.alt(study)))
        yield f"{kind.name}.svg", encoded(svg)
        yield f"{kind.name}.png", png_of(figure)
    yield "point.html", encoded(page(study, drawings))
