"""Part tolerances for people at a terminal: fits 80 columns, the verdict last."""

from collections.abc import Iterator
from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report.printing import joined, printed
from derate.report.spread_words import (
    chance_words,
    importance_words,
    near_words,
    replay_words,
    rows_of,
    standing,
    title_words,
    tripped_words,
    verdict,
)
from derate.report.worst_memory import cited

if TYPE_CHECKING:
    from derate.study.spread import Spread

NAME_COLUMNS = 18
TOPIC_COLUMNS = 12
STYLES = {"held": "bold green", "exceeded": "bold red"}
HEADS = ("1 %", "5 %", "50 %", "95 %", "99 %", "worst", "limit", "over")


def print_study(study: "Spread", out: IO[str], *, saved: bool = False) -> None:
    """Print distributions, what they show, what matters most and the verdict; all at once.

    ``saved``: whether the worst units lie there as files.
    """
    printed(lambda console: _print(study, console, saved), out)


def _print(study: "Spread", console: Console, saved: bool) -> None:
    console.print(f"{study.lamp.name}, {title_words(study)}", markup=False)
    console.print(_table(study))
    facts = Table.grid(padding=(0, 2))
    facts.add_column(max_width=TOPIC_COLUMNS, overflow="fold")
    facts.add_column()
    for topic, sentence in _facts(study, saved):
        facts.add_row(Text(topic), Text(joined(sentence)))
    console.print(facts)
    console.print()
    console.print(Text(joined(verdict(study)), style=STYLES[standing(study)]))


def _table(study: "Spread") -> Table:
    """A line a figure: shares of the units that lie at or below each value, and the worst."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 0))
    table.add_column("", max_width=NAME_COLUMNS, overflow="fold")
    table.add_column("")
    for head in HEADS:
        table.add_column(f" {head}", justify="right", no_wrap=True)
    for row in rows_of(study):
        unit = Text(f" {row.unit}")
        table.add_row(
            Text(row.name), unit, *row.cells, row.limit, row.over,
            style="red" if row.exceeded else "",
        )  # fmt: skip
    return table


def _facts(study: "Spread", saved: bool) -> Iterator[tuple[str, str]]:
    """What the units show, what matters, where the worst ones are: a topic a row."""
    yield "shows", chance_words(study.over)
    yield "guard band", near_words(study)
    if study.tripped is not None:
        yield "cut-out", tripped_words(study)
    if (bound := cited(study.lamp)) is not None:
        yield "bound", bound
    if study.drawn:
        for topic, subject in (("margin by", "margin"), ("light by", "share")):
            yield topic, importance_words(study.importances[subject], subject)
    if saved:
        yield "run again", replay_words(study)
