"""A bound for people at a terminal: fits 80 columns, the verdict last."""

from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report import worst_words as words
from derate.report.printing import joined, printed
from derate.report.words import number

if TYPE_CHECKING:
    from derate.limits.worst.study import UnitBounds, Worst


def print_study(study: "Worst", out: IO[str]) -> None:
    """Print bounds, the history that comes near, what acts, and the verdict."""
    printed(lambda console: _print(study, console), out)


def _print(study: "Worst", console: Console) -> None:
    console.print(f"{study.lamp.name}, the worst of every history", markup=False)
    console.print(words.span_words(study.span), markup=False)
    for unit in study.units:
        console.print(_table(unit))
    facts = Table.grid(padding=(0, 2))
    facts.add_column(no_wrap=True)
    facts.add_column()
    for topic, sentence in facts_of(study):
        facts.add_row(topic, Text(joined(sentence)))
    console.print(facts)
    console.print()
    style = "bold green" if study.holds else "bold red"
    console.print(Text(joined(words.verdict(study)), style=style))


def facts_of(study: "Worst") -> list[tuple[str, str]]:
    """What there is to say in sentences, a topic each."""
    unit = study.units[0]
    place = unit.places[0]
    near = [one for one in unit.places if one.replay is not None]
    return [
        *(("history", words.history_words(study, one)) for one in near),
        ("replayed", words.gap_words(unit)),
        ("acts", words.acting_words(unit, place)),
        ("thresholds", words.shift_words(study)),
        *(("note", note) for note in study.notes),
        ("rests on", words.RESTS),
    ]


def _table(unit: "UnitBounds") -> Table:
    table = Table(
        box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), collapse_padding=True,
        title=unit.name, title_justify="left", title_style="",
    )  # fmt: skip
    table.add_column("place", no_wrap=True)
    for head in ("full light\nfor ever", "bound", "replayed", "limit", "margin\nK"):
        table.add_column(head, justify="right", no_wrap=True)
    for place in unit.places:
        table.add_row(
            place.name,
            number(place.open_c),
            number(place.bound_c),
            "" if place.replay is None else number(place.replay.peak_c),
            number(place.limit_c),
            number(place.margin_k),
            style="" if place.margin_k >= 0.0 else "red",
        )
    return table
