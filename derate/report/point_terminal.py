"""The operating point for people at a terminal: fits 80 columns, the verdict last."""

from collections.abc import Iterable, Iterator, Sequence
from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report.point_colour import (
    COLOUR_HEADS,
    SHARED_HEADS,
    colour_rows,
    colour_words,
    shared_rows,
)
from derate.report.point_comparison import comparison_rows, cost_words, names_of_sides
from derate.report.point_sentences import (
    best_words,
    clause,
    derating_words,
    helps_words,
    power_words,
    resistance_words,
    ripple_words,
    safe_words,
    sensor_words,
    settled_words,
    threshold_words,
)
from derate.report.point_surfaces import HEADS, surface_notes, surface_row
from derate.report.point_words import (
    situation_words,
    standing,
    told_nodes,
    verdict,
    what_if_figures,
    whole_percent,
)
from derate.report.printing import joined, printed
from derate.report.words import figures, number

if TYPE_CHECKING:
    from derate.study.operation import ChannelPoint
    from derate.study.point import PointStudy

NAME_COLUMNS = 16
TOPIC_COLUMNS = 14
CHANGE_COLUMNS = 32
SHARED_COLUMNS = 21
STYLES = {"held": "bold green", "exceeded": "bold red"}
CHANNEL_HEADS = (
    "drive", "\nA", "\nV", "\nW", "heat\nW", "light\nlm", "\nlm/W", "junction\ndegC",
    "solder\ndegC", "limit\ndegC", "left\nK",
)  # fmt: skip
WHAT_IF_HEADS = (
    " limiting\nplace", " nearest\njunction", " light\nhere lm", " permitted\nlight lm"
)  # fmt: skip
NODE_HEADS = ("\n  degC", " limit\ndegC", " left\nK")


def print_study(study: "PointStudy", out: IO[str]) -> None:
    """Print channels, nodes, sensors, what helps, derating, control, verdict; all at once."""
    printed(lambda console: _print(study, console), out)


def _print(study: "PointStudy", console: Console) -> None:
    console.print(f"{study.lamp.name}, {situation_words(study)}", markup=False)
    console.print(_channels(study))
    console.print(_nodes(study))
    if study.surfaces:
        console.print(_surfaces(study))
    if study.colour is not None:
        console.print(_table("colour", COLOUR_HEADS, colour_rows(study.colour)))
    if study.shared:
        console.print(_table("to share limits", SHARED_HEADS, shared_rows(study), SHARED_COLUMNS))
    facts = Table.grid(padding=(0, 2))
    facts.add_column(max_width=TOPIC_COLUMNS, overflow="fold")
    facts.add_column()
    for topic, sentence in _facts(study):
        facts.add_row(Text(topic), Text(joined(sentence)))
    console.print(facts)
    if study.what_ifs:
        console.print(_what_ifs(study))
    if study.comparison is not None:
        console.print(_comparison(study))
    if not (study.what_ifs or study.comparison):
        console.print()
    console.print(Text(joined(verdict(study)), style=STYLES[standing(study)]))


def _plain_table(head: str = "", columns: int = NAME_COLUMNS) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 0))
    table.add_column(head, max_width=columns, overflow="fold")
    return table


def _table(
    head: str, heads: Sequence[str], rows: Iterable[Sequence[str]], columns: int = NAME_COLUMNS
) -> Table:
    """A table of finished words, a name in front of each row."""
    table = _plain_table(head, columns)
    for one in heads:
        table.add_column(f" {one}".replace("\n", "\n "), justify="right")
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def _channels(study: "PointStudy") -> Table:
    """A line a channel; long names give way to numbers."""
    table = _plain_table()
    for head in CHANNEL_HEADS:
        table.add_column(head, justify="right", no_wrap=True)
    for one in study.channels:
        table.add_row(Text(one.name), *_channel(one), style="red" if one.margin_k < 0 else "")
    return table


def _channel(one: "ChannelPoint") -> tuple[str, ...]:
    return (
        whole_percent(one.duty),
        figures(one.current_a, 3),
        number(one.voltage_v),
        figures(one.electrical_w),
        figures(one.heat_w),
        number(one.light_lm, 0),
        number(one.efficacy_lm_per_w, 0),
        number(one.junction_c),
        number(one.solder_c),
        number(one.limit_c, 0),
        number(one.margin_k),
    )


def _nodes(study: "PointStudy") -> Table:
    """A line a node, without the points of the board."""
    table = _plain_table()
    for head in NODE_HEADS:
        table.add_column(head, justify="right", no_wrap=True)
    for one in told_nodes(study):
        over = one.margin_k is not None and one.margin_k < 0
        limits = [
            "" if value is None else number(value, digits)
            for value, digits in ((one.limit_c, 0), (one.margin_k, 1))
        ]
        table.add_row(
            Text(one.name), number(one.temperature_c), *limits, style="red" if over else ""
        )
    return table


def _surfaces(study: "PointStudy") -> Table:
    """A line a surface."""
    table = _plain_table()
    for head in HEADS[1:]:
        table.add_column(f" {head}".replace("\n", "\n "), justify="right", no_wrap=True)
    for one in study.surfaces:
        name, *figures_of = surface_row(one)
        table.add_row(Text(name), *figures_of)
    return table


def _facts(study: "PointStudy") -> Iterator[tuple[str, str]]:
    """Power, sensing, helps, derating, control, warnings: a topic a row."""
    if study.stability.sentence:
        yield "stability", clause(study.stability.sentence)
    yield "power", power_words(study.power)
    if study.paths:
        yield "to ambient", resistance_words(study)
    for name, words in surface_notes(study):
        yield f"surface {name}", words
    if words := ripple_words(study):
        yield "PWM", words
    if study.colour is not None:
        yield "colour", colour_words(study.colour)
    for sensor in study.sensors:
        yield f"sensor {sensor.name}", sensor_words(sensor)
    for name, sentence in threshold_words(study):
        yield f"{name} at limit", sentence
    for place, words in helps_words(study):
        yield "would cool", f"{place}: {words}"
    yield "derating", derating_words(study.derating, study.ambient_c)
    yield "safe drive", safe_words(study)
    yield "most light", best_words(study.best)
    yield "control", settled_words(study)
    if study.cost is not None:
        yield "cost", cost_words(study.cost)


def _what_ifs(study: "PointStudy") -> Table:
    """Changed lamps solved again, a line each: the limiting place and the light."""
    table = _plain_table("a changed lamp", CHANGE_COLUMNS)
    for head in WHAT_IF_HEADS:
        table.add_column(head, justify="right", no_wrap=True)
    for one in study.what_ifs:
        table.add_row(Text(one.what), *what_if_figures(one))
    return table


def _comparison(study: "PointStudy") -> Table:
    """This lamp and the other, a line a figure."""
    assert study.comparison is not None
    table = _plain_table()
    for name in names_of_sides(study):
        table.add_column(Text(name), justify="right", max_width=24, overflow="fold")
    for name, this, other in comparison_rows(study.comparison):
        table.add_row(name, this, other)
    return table
