"""What is being done, in one line that a terminal shows until the next; nothing elsewhere."""

import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

MOST_COLUMNS = 80


@contextmanager
def shown() -> Iterator[Callable[[str], None]]:
    """A function that shows what is being done on standard error if that is a terminal.

    At the end the line is wiped, so that what is said next stands in its place.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda doing: None
        return
    try:
        yield _show
    finally:
        _show("")


def _show(doing: str) -> None:
    """Write over the line; a terminal that is gone is no reason to stop."""
    columns = min(shutil.get_terminal_size().columns, MOST_COLUMNS) - 1
    line = f"derate: {doing} ..." if doing else ""
    with suppress(OSError, ValueError):
        sys.stderr.write(f"\r{line[:columns]:{columns}}" + ("" if doing else "\r"))
        sys.stderr.flush()
