"""A tuning for people at a terminal: fits 80 columns, the verdict last."""

from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report import tune_words as words
from derate.report.printing import joined, printed
from derate.report.words import number, percent
from derate.report.worst_memory import cited

if TYPE_CHECKING:
    from derate.study.tune import Tuning


def print_tuning(tuning: "Tuning", out: IO[str]) -> None:
    """Print settings, figures, trade-offs and the verdict; all at once."""
    printed(lambda console: _print(tuning, console), out)


def _print(tuning: "Tuning", console: Console) -> None:
    title = f"{tuning.lamp.name}, tuned for {', '.join(tuning.profiles)}"
    console.print(title, markup=False)
    console.print()
    if tuning.chosen is not None:
        console.print(_settings(tuning))
    console.print(_facts(tuning))
    if tuning.chosen is not None:
        console.print(_trades(tuning))
    console.print(Text(joined(words.verdict(tuning)), style="bold"))


def _settings(tuning: "Tuning") -> Table:
    """Settings now and tuned, and what hangs on each."""
    table = _plain_table()
    table.add_column("setting")
    for head in ("now", "tuned", "moved by", "light\n%", "margin\nK", "step seen\n%"):
        table.add_column(head, justify="right", no_wrap=True)
    for row in words.setting_rows(tuning):
        table.add_row(
            row.name,
            row.present,
            Text(row.tuned, style="" if row.tuned == row.present else "bold"),
            row.step,
            "" if row.light is None else number(-100.0 * row.light),
            "" if row.margin_k is None else number(-row.margin_k),
            "" if row.seen is None else number(100.0 * row.seen),
        )
    return table


def _facts(tuning: "Tuning") -> Table:
    """What there is to say in sentences, a topic a row."""
    facts = Table.grid(padding=(0, 2))
    facts.add_column(no_wrap=True)
    facts.add_column()
    seen = "" if tuning.chosen is None else words.seen_words(tuning.chosen.figures.seen)
    drawn = f"{tuning.drawn.units} drawn" if tuning.drawn else ""
    for topic, sentence in (
        ("light", words.light_words(tuning)),
        ("limits", words.limits_words(tuning)),
        ("seen", seen),
        ("units", words.units_words(tuning)),
        (drawn, words.drawn_words(tuning)),
        *words.checks_words(tuning),
        ("bound", cited(tuning.firmware or tuning.lamp) or ""),
        ("reason", words.reason(tuning)),
    ):
        if sentence:
            facts.add_row(topic, Text(joined(sentence)))
    return facts


def _trades(tuning: "Tuning") -> Table:
    """What margin and unseen steps cost in light."""
    table = _plain_table()
    table.add_column("trade-off", no_wrap=True, min_width=9)
    for head in ("light", "margin\nK", "largest\nstep"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("settings of the policy")
    for name, along in (("margin", tuning.margins), ("steps", tuning.steps)):
        for row in words.trade_rows(tuning, along):
            table.add_row(
                f"{name} *" if row.chosen else name,
                percent(row.light),
                number(row.margin_k),
                "" if row.step is None else percent(row.step),
                row.settings,
                style="bold" if row.chosen else "",
            )
    return table


def _plain_table() -> Table:
    return Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), collapse_padding=True)
