"""The fault matrix for people at a terminal: fits 80 columns, the verdict last."""

from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.limits.fault_kinds import MOMENTS
from derate.report.faults_beside import cutout_facts, early_facts
from derate.report.faults_words import (
    RESTS,
    seen_words,
    verdict,
    why_words,
)
from derate.report.printing import joined, printed
from derate.report.words import number

if TYPE_CHECKING:
    from derate.limits.fault_cells import Cell
    from derate.limits.fault_matrix import FaultStudy, Row

NAME_COLUMNS = 19
TOPIC_COLUMNS = 13


def print_study(study: "FaultStudy", out: IO[str]) -> None:
    """Print the matrix, what fails and why, the cut-outs, early detection and the verdict."""
    printed(lambda console: _print(study, console), out)


def _print(study: "FaultStudy", console: Console) -> None:
    console.print(f"{study.lamp.name}, faults", markup=False)
    console.print(_table(study))
    console.print("peak of the place nearest to its limit in degC, margin in K in brackets, when a")
    console.print("flag was raised; * is made good by the cut-out, ! passes a limit.")
    console.print()
    facts = Table.grid(padding=(0, 2))
    facts.add_column(max_width=TOPIC_COLUMNS, overflow="fold")
    facts.add_column()
    for row in study.rows:
        if row.failed():
            facts.add_row(Text(row.fault.name), Text(joined(why_words(row, study))))
    for topic, sentence in (*cutout_facts(study), *early_facts(study)):
        facts.add_row(Text(topic), Text(joined(sentence)))
    facts.add_row(Text("rests on"), Text(RESTS))
    console.print(facts)
    console.print()
    style = "bold green" if study.held else "bold red"
    console.print(Text(joined(verdict(study)), style=style))


def _table(study: "FaultStudy") -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), collapse_padding=True)
    table.add_column("", max_width=NAME_COLUMNS, overflow="fold")
    for moment in MOMENTS:
        table.add_column(moment, no_wrap=False)
    for row in study.rows:
        table.add_row(Text(row.fault.name), *(_told(cell) for cell in row.cells),
                      style=_style(row))  # fmt: skip
    return table


def _told(cell: "Cell") -> Text:
    mark = "" if cell.held else "*" if cell.saved and cell.saved.margin_k >= 0.0 else "!"
    return Text(f"{number(cell.peak_c)} ({number(cell.margin_k)}){mark}\n{_seen(cell)}")


def _seen(cell: "Cell") -> str:
    return "" if cell.seen_s is None else seen_words(cell)


def _style(row: "Row") -> str:
    return "red" if row.unsaved() else "yellow" if row.failed() else ""
