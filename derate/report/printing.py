"""Tables for people on standard output: 80 columns, written in one go."""

import re
from collections.abc import Callable
from typing import IO

from rich.console import Console

COLUMNS = 80
KEPT = "\ue000"
"""Stands for a space at which no line is broken; the printer breaks at every true one."""


def joined(text: str) -> str:
    """A sentence whose numbers stay on one line with their units."""
    return re.sub(r"(?<=\d) (?=(?:%|[A-Za-z/]{1,4})(?:[ ,.;)]|$))", KEPT, text)


def printed(draw: Callable[[Console], None], out: IO[str]) -> None:
    """Write what ``draw`` prints to ``out``, all at once: a closed pipe is the caller's matter."""
    console = Console(file=out, width=COLUMNS, highlight=False)
    with console.capture() as captured:
        draw(console)
    lines = captured.get().replace(KEPT, " ").split("\n")
    out.write("\n".join(line.rstrip() for line in lines))
