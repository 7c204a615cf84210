"""The files of part tolerances: page, figures, summary, every unit, and the worst as lamp files."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.report import spread_summary as machine
from derate.report.figures import drawn
from derate.report.folder import place_all, prepare
from derate.report.spread_figures import kinds_of
from derate.report.spread_page import page
from derate.report.spread_words import file_of
from derate.report.spread_worst import unit_text
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.study.spread import Spread


def write(
    study: "Spread", folder: Path, doing: Callable[[str], object] = lambda doing: None
) -> tuple[Path, ...]:
    """Write all of the files whole, or none; returns their paths. ``doing`` is told what is made.

    A lamp built in Python has no files of units.
    """
    prepare(folder)
    return place_all(folder, _contents(study, doing))


def _contents(study: "Spread", doing: Callable[[str], object]) -> Iterator[tuple[str, bytes]]:
    yield "summary.json", encoded(machine.to_json(study))
    yield "units.csv", encoded("".join(machine.units_csv(study)))
    for unit in study.worst if study.lamp.keys else ():
        yield file_of(study, unit), encoded(unit_text(study, unit))
    drawings = yield from drawn(kinds_of(study), study, doing)
    yield "spread.html", encoded(page(study, drawings))
