"""Tables for people on standard output: 80 columns, written in one go."""

from collections.abc import Callable
from typing import IO

from rich.console import Console

COLUMNS = 80


def printed(draw: Callable[[Console], None], out: IO[str]) -> None:
    """Write what ``draw`` prints to ``out``, all at once: a closed pipe is the caller's matter."""
    console = Console(file=out, width=COLUMNS, highlight=False)
    with console.capture() as captured:
        draw(console)
    lines = captured.get().split("\n")
    out.write("\n".join(line.rstrip() for line in lines))
