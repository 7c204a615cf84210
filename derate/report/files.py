"""A result written to a folder: summary, trace, figures and page; never half a file."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from derate.errors import InputError, SurroundingsError
from derate.report import summary as machine
from derate.report.figures import KINDS, inlined, png_of, svg_of
from derate.report.page import page
from derate.report.words import typeset

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.loop.trace import Trace

CHUNK_ROWS = 4096
TIME_FORMAT = "%.12g"
VALUE_FORMAT = "%.8g"


def write(
    result: "Result", folder: Path, *, tell: Callable[[str], None] = lambda message: None
) -> tuple[Path, ...]:
    """Write summary.json, trace.csv, six figures as SVG and PNG, and report.html.

    Each file appears whole under its name or not at all. Returns the paths. Raises InputError if
    ``folder`` is something else than a folder, SurroundingsError if it cannot be written.
    """
    prepare(folder)
    written = []
    for name, content in _contents(result):
        tell(name)
        written.append(_place(folder / name, content))
    return tuple(written)


def prepare(folder: Path) -> None:
    """Make the folder, or say why it cannot be used; called before the work begins."""
    if folder.exists() and not folder.is_dir():
        raise InputError(f"--out {folder} is a file, and a folder is due")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        raise InputError(f"--out {folder} lies in {error.filename}, which is a file") from error
    except OSError as error:
        raise SurroundingsError(_reason(folder, error)) from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise SurroundingsError(f"--out {folder} cannot be written: permission denied")


def csv_of(trace: "Trace") -> Iterator[str]:
    """The trace as CSV in pieces: a line of column names with units, then a line a tick."""
    yield ",".join(trace.names) + "\n"
    formats = [TIME_FORMAT if name == "time_s" else VALUE_FORMAT for name in trace.names]
    line = ",".join(formats) + "\n"
    columns = [trace[name] for name in trace.names]
    for start in range(0, len(trace), CHUNK_ROWS):
        rows = zip(*(column[start : start + CHUNK_ROWS].tolist() for column in columns), strict=True)
        yield "".join([line % row for row in rows])


def _contents(result: "Result") -> Iterator[tuple[str, bytes]]:
    """Name and bytes of each file, made one after the other."""
    yield "summary.json", machine.to_json(result).encode()
    yield "trace.csv", "".join(csv_of(result.trace)).encode()
    drawings = {}
    for kind in KINDS:
        figure = kind.draw(result)
        svg = svg_of(figure)
        drawings[kind.name] = inlined(svg, kind.name, typeset(kind.alt(result)))
        yield f"{kind.name}.svg", svg.encode()
        yield f"{kind.name}.png", png_of(figure)
    yield "report.html", page(result, drawings).encode()


def _place(path: Path, content: bytes) -> Path:
    """Write under another name, then give it its name in one go."""
    if path.is_dir():
        raise InputError(f"{path} is a folder, and a file of that name is to be written")
    partial = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        partial.write_bytes(content)
        os.replace(partial, path)
    except OSError as error:
        raise SurroundingsError(_reason(path, error)) from error
    finally:
        partial.unlink(missing_ok=True)
    return path


def _reason(path: Path, error: OSError) -> str:
    return f"{path} cannot be written: {(error.strerror or str(error)).lower()}"
