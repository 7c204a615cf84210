"""A result written to a folder: summary, trace, figures and page; never half a file."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.firmware.header import FILE_NAME, settings_header
from derate.report import summary as machine
from derate.report.figures import drawn, kinds_of
from derate.report.folder import place_all, prepare
from derate.report.page import page
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.loop.trace import Trace
    from derate.study.possible import Possible

CHUNK_ROWS = 4096
TIME_FORMAT = "%.12g"
VALUE_FORMAT = "%.8g"


def write(
    result: "Result",
    folder: Path,
    *,
    possible: "Possible | None" = None,
    tell: Callable[[str], None] = lambda message: None,
) -> tuple[Path, ...]:
    """Write summary.json, trace.csv, six figures as SVG and PNG, and report.html.

    For a lamp with the C body also the settings header that the run was made with; beside
    ``possible`` one figure more, and one where the colours of all lit channels are known.

    All files appear whole under their names, the summary last, or none does. Returns the paths.
    Raises InputError if ``folder`` is something else than a folder, SurroundingsError if it cannot
    be written.
    """
    prepare(folder)
    return place_all(folder, _contents(result, possible, tell))


def csv_of(trace: "Trace") -> Iterator[str]:
    """The trace as CSV in pieces: a line of column names with units, then a line a tick."""
    yield ",".join(trace.names) + "\n"
    formats = [TIME_FORMAT if name == "time_s" else VALUE_FORMAT for name in trace.names]
    line = ",".join(formats) + "\n"
    columns = [trace[name] for name in trace.names]
    for start in range(0, len(trace), CHUNK_ROWS):
        chunk = [column[start : start + CHUNK_ROWS].tolist() for column in columns]
        yield "".join([line % row for row in zip(*chunk, strict=True)])


def _contents(
    result: "Result", possible: "Possible | None", tell: Callable[[str], None]
) -> Iterator[tuple[str, bytes]]:
    """Name and bytes of each file, made and told one after the other."""
    for name, content in _texts_and_pictures(result, possible):
        tell(name)
        yield name, content if isinstance(content, bytes) else encoded(content)


def _texts_and_pictures(
    result: "Result", possible: "Possible | None"
) -> Iterator[tuple[str, str | bytes]]:
    yield "summary.json", machine.to_json(result, possible)
    yield "trace.csv", "".join(csv_of(result.trace))
    if result.lamp.controller.body != "python":
        yield FILE_NAME, settings_header(result.lamp)
    drawings = yield from drawn(kinds_of(result, possible), result)
    yield "report.html", page(result, drawings, possible)
