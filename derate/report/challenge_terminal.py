"""A search for a counterexample for people at a terminal: fits 80 columns, the verdict last."""

from collections.abc import Iterator
from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report.challenge_words import light_words, searched, told, unit_words, verdict
from derate.report.printing import joined, printed
from derate.report.words import number

if TYPE_CHECKING:
    from derate.limits.challenge import Challenge

TOPIC_COLUMNS = 12
AGREE_K = 1e-6
STYLES = {True: "bold green", False: "bold red"}
HEADS = ("margin K", "peak after s", "ambient degC", "unit")


def print_study(study: "Challenge", out: IO[str]) -> None:
    """Print the ways of searching, the finding and the verdict; all at once."""
    printed(lambda console: _print(study, console), out)


def rows_of(study: "Challenge") -> list[tuple[str, ...]]:
    """A line a way: its least margin, after how long, in which ambient, of which unit."""
    rows: list[tuple[str, ...]] = []
    for way, one in study.ways.items():
        ambient_c = next(iter(one.surroundings.ambient_c(study.space).values()))
        cells = number(one.margin_k, 2), f"{one.peak_at_s:.0f}", f"{ambient_c:.3g}"
        rows.append((way, *cells, one.surroundings.unit.name))
    return rows


def _print(study: "Challenge", console: Console) -> None:
    console.print(f"{study.lamp.name}, challenged", markup=False)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("least margin, by way of searching")
    for head in HEADS[:-1]:
        table.add_column(head, justify="right")
    table.add_column(HEADS[-1])
    for row in rows_of(study):
        table.add_row(*map(Text, row))
    console.print(table)
    facts = Table.grid(padding=(0, 2))
    facts.add_column(max_width=TOPIC_COLUMNS, overflow="fold")
    facts.add_column()
    for topic, sentence in facts_of(study):
        facts.add_row(Text(topic), Text(joined(sentence)))
    console.print(facts)
    console.print()
    console.print(Text(joined(verdict(study)), style=STYLES[study.holds]))


def facts_of(study: "Challenge") -> Iterator[tuple[str, str]]:
    """What was searched and found, a topic a row."""
    yield "searched", searched(study)
    yield "simplest", told(study)
    if unit := unit_words(study):
        yield "unit", unit
    if study.differs_k > AGREE_K:
        yield "replay", f"the timeline differs by {study.differs_k:.2g} K from the search"
    yield "light", light_words(study)
    for doubt in study.doubts:
        yield "void", doubt
