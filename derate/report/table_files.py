"""The files of a reading study: what the firmware needs, and what people look at."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.firmware.table_files import table_files
from derate.report import table_summary as machine
from derate.report.figures import drawn
from derate.report.folder import place_all, prepare
from derate.report.table_figures import KINDS
from derate.report.table_page import page
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.sensing.study import ReadingStudy


def firmware_files(study: "ReadingStudy") -> dict[str, bytes]:
    """Name and bytes of C header, source and self-test, CSV and JSON."""
    return {name: encoded(text) for name, text in table_files(study).items()}


def report_files(study: "ReadingStudy") -> dict[str, bytes]:
    """Name and bytes of summary.json, the figures as SVG and PNG, and table.html."""
    return dict(_contents(study))


def write(files: dict[str, bytes], folder: Path, option: str = "--out") -> tuple[Path, ...]:
    """Write all of the files whole, or none; returns their paths."""
    prepare(folder, option)
    return place_all(folder, files.items())


def _contents(study: "ReadingStudy") -> Iterator[tuple[str, bytes]]:
    """Name and bytes of each file, made one after the other."""
    yield "summary.json", encoded(machine.to_json(study))
    drawings = yield from drawn(KINDS, study)
    yield "table.html", encoded(page(study, drawings))
