"""The reading study for people at a terminal: fits 80 columns, the verdict last."""

from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report.printing import printed
from derate.report.table_words import Row, alternatives, hint, rows, verdict
from derate.report.words import figures
from derate.sensing.description import (
    chain_words,
    fit_words,
    situation_words,
    table_words,
    threshold_words,
    window_words,
)

if TYPE_CHECKING:
    from derate.sensing.study import ReadingStudy
    from derate.sensing.tables import ReadingTable

HEADS = ("at\ndegC", "off at worst\nK", "root sum\nsquare K", "99.7 % of\nunits K")
CAUSE_COLUMNS = 34


def print_study(study: "ReadingStudy", out: IO[str]) -> None:
    """Print chain, table, windows, error budget, resistor, threshold, verdict; all at once."""
    printed(lambda console: _print(study, console), out)


def _print(study: "ReadingStudy", console: Console) -> None:
    lamp = study.source.get("lamp")
    console.print(f"{lamp}, sensor {study.name}" if lamp else study.name, markup=False)
    console.print()
    console.print(_facts(study))
    console.print(_budget(rows(study)))
    console.print(Text(verdict(study), style="bold"))


def _facts(study: "ReadingStudy") -> Table:
    """What there is to say in sentences, a topic a row."""
    opened, shorted = window_words(study.table.window)
    facts = Table.grid(padding=(0, 2))
    facts.add_column(no_wrap=True)
    facts.add_column()
    facts.add_row("chain", Text(chain_words(study.sensor, study.circuit)))
    if fit := fit_words(study.sensor):
        facts.add_row("fit", Text(fit))
    error = f"{figures(study.table.error_k, 2)} K at worst, over every code"
    facts.add_row("table", Text(f"{table_words(study.table)}; {error}"))
    for other in alternatives(study):
        facts.add_row("or", Text(_other(other)))
    facts.add_row("open", Text(opened))
    facts.add_row("short", Text(shorted))
    facts.add_row("resistor", Text(hint(study)))
    if study.threshold is not None:
        facts.add_row("threshold", Text(threshold_words(study.threshold)))
    facts.add_row("told for", Text(situation_words(study.situation)))
    return facts


def _other(table: "ReadingTable") -> str:
    return (
        f"{table.kind}: {table.bytes} bytes, {table.operations} steps,"
        f" {figures(table.error_k, 2)} K"
    )


def _budget(found: list[Row]) -> Table:
    """The error budget at a few temperatures, the largest causes first."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), collapse_padding=True)
    for head in HEADS:
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("largest causes\nK", width=CAUSE_COLUMNS, no_wrap=True)
    for row in found:
        table.add_row(
            f"{row.celsius:.0f}",
            f"{row.worst_low_k:+.2f} {row.worst_high_k:+.2f}",
            f"{row.rss_k:.2f}",
            "saturated" if row.saturated else f"{row.units_low_k:+.2f} {row.units_high_k:+.2f}",
            _causes(row),
        )
    return table


def _causes(row: Row) -> str:
    """As many of the largest causes as fit the line."""
    words = ""
    for name, size_k in row.causes:
        longer = f"{words}{', ' if words else ''}{name} {figures(size_k, 2)}"
        if len(longer) > CAUSE_COLUMNS:
            break
        words = longer
    return words
