"""The short table for people: fits 80 columns, the verdict last."""

import math
from collections.abc import Iterator
from typing import IO, TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from derate.report.board_words import board_sentence
from derate.report.colour_words import colour_of, colour_sentence
from derate.report.cutout_words import cutout_sentence
from derate.report.possible_words import possible_sentence
from derate.report.printing import printed
from derate.report.sharing import sharing_sentence
from derate.report.throttling import control_sentence, fault_sentence, hunting_sentence
from derate.report.verdict import Limited, junctions, limited_nodes, verdict, verdict_class
from derate.report.words import duration, figures, number, percent, small
from derate.report.worst_memory import cited

if TYPE_CHECKING:
    from derate.loop.merit import SensorMerit
    from derate.loop.run import Result
    from derate.study.possible import Possible

NAME_COLUMNS = 20
STYLES = {
    "held": "bold green",
    "hunts": "bold yellow",
    "cut": "bold yellow",
    "exceeded": "bold red",
}
HEADS = (
    "peak\ndegC",
    "at",
    "limit\ndegC",
    "margin\nK",
    "above\nlimit",
    "light\nlm h",
    "of\nasked",
)


def print_result(result: "Result", out: IO[str], possible: "Possible | None" = None) -> None:
    """Print a run: what got hot, what light came out, how sensing and control did, verdict.

    ``possible`` adds what share of it the run delivered.
    """
    printed(lambda console: _print(result, possible, console), out)


def _print(result: "Result", possible: "Possible | None", console: Console) -> None:
    span = duration(float(result.trace["time_s"][-1]))
    console.print(f"{result.lamp.name}, profile {result.profile_name}, {span}", markup=False)
    console.print(_table(result))
    facts = Table.grid(padding=(0, 2))
    facts.add_column(max_width=NAME_COLUMNS, overflow="fold")
    facts.add_column()
    for topic, sentence in _facts(result, possible):
        facts.add_row(topic, Text(sentence))
    console.print(facts)
    style = STYLES[verdict_class(result)]
    console.print()
    console.print(Text(verdict(result), style=style))


def _table(result: "Result") -> Table:
    """Peaks against limits, and the light of the channels; long names give way to numbers."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1), collapse_padding=True)
    table.add_column("", max_width=NAME_COLUMNS, overflow="fold")
    for head in HEADS:
        table.add_column(head, justify="right", no_wrap=True)
    for limited in junctions(result):
        channel = result.merit.channels[limited.name]
        light = (figures(channel.light_lm_h), percent(channel.share_of_request))
        table.add_row(*_peak(limited), *light, style="" if limited.margin_k >= 0 else "red")
    for limited in limited_nodes(result):
        table.add_row(*_peak(limited), "", "", style="" if limited.margin_k >= 0 else "red")
    return table


def _peak(limited: Limited) -> tuple[str, ...]:
    return (
        limited.name,
        number(limited.peak_c),
        duration(limited.peak_at_s),
        number(limited.limit_c),
        number(limited.margin_k),
        duration(limited.above_limit_s) if limited.above_limit_s > 0 else "-",
    )


def _facts(result: "Result", possible: "Possible | None") -> Iterator[tuple[str, str]]:
    """Light, colour, sensing, control and numerics."""
    merit = result.merit
    yield (
        "light",
        f"{figures(merit.light_lm_h)} lm h, {percent(merit.share_of_request)} of what was asked, "
        f"for {figures(merit.electrical_wh)} Wh",
    )
    if possible is not None:
        yield "possible", possible_sentence(result, possible)
    if (colour := colour_of(result)) is not None:
        yield "colour", colour_sentence(colour)
    if (bound := cited(result.lamp)) is not None:
        yield "bound", bound
    if (shared := sharing_sentence(result.lamp)) is not None:
        yield "sharing", shared
    for name, sensor in merit.sensors.items():
        yield f"sensing {name}", _sensing_sentence(sensor)
    yield "control", control_sentence(result)
    if merit.faults:
        yield "faults", fault_sentence(result)
    for name, cutout in merit.cutouts.items():
        yield f"cut-out {name}", cutout_sentence(cutout)
    if merit.hunting:
        yield "hunting", hunting_sentence(result)
    if result.talk is not None:
        yield "board", board_sentence(result.talk)
    yield "numerics", f"{small(merit.time_error_k)} K change when every time step is halved"


def _sensing_sentence(sensor: "SensorMerit") -> str:
    """How far a sensor is off, and how far the junction is ahead of it."""
    if not math.isfinite(sensor.worst_low_k):
        return "no healthy reading"
    return (
        f"reads {sensor.worst_low_k:+.2f} to {sensor.worst_high_k:+.2f} K off its thermistor, "
        f"hottest junction up to {number(sensor.behind_junction_k)} K above it"
    )
