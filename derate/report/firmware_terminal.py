"""A controller on its cores for people at a terminal: fits 80 columns, the verdict last."""

from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report.firmware_words import figure_rows, notes, state_lines, verdict
from derate.report.printing import joined, printed

if TYPE_CHECKING:
    from derate.study.target_figures import TargetStudy

TOPIC_COLUMNS = 12
CAUTION = (
    "figures of this compiler and these timings; measure on the board before trusting, and keep"
    " an independent hardware cut-out where failure can hurt"
)


def print_study(study: "TargetStudy", out: IO[str]) -> None:
    """Print figures, what was compared, differences with states, verdict; all at once."""
    printed(lambda console: _print(study, console), out)


def _print(study: "TargetStudy", console: Console) -> None:
    whose = "your own C" if study.own else f"policy {study.lamp.controller.policy.kind}"
    console.print(f"{study.lamp.name}, {whose}", markup=False)
    if study.tried:
        console.print(_figures(study))
    facts = Table.grid(padding=(0, 2))
    facts.add_column(max_width=TOPIC_COLUMNS, overflow="fold")
    facts.add_column()
    for topic, sentence in (*notes(study), ("caution", CAUTION)):
        facts.add_row(Text(topic), Text(joined(sentence)))
    console.print(facts)
    for core in study.tried:
        if core.difference is not None:
            console.print(f"\nstate before that step, host and {core.target.name}:", markup=False)
            for line in state_lines(core.difference, core.target.name):
                console.print(Text(line))
    console.print()
    style = "bold green" if study.agrees else "bold red"
    console.print(Text(joined(verdict(study)), style=style))


def _figures(study: "TargetStudy") -> Table:
    """A line a figure, a column a core."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("bytes, and what a step takes")
    for core in study.tried:
        table.add_column(core.target.name, justify="right", no_wrap=True)
    for row in figure_rows(study):
        table.add_row(*map(Text, row))
    return table
