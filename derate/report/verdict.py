"""Whether every limit held, and where it was closest: one sentence."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from derate.lamp.limit import limit_words
from derate.report.words import below_or_above, duration

if TYPE_CHECKING:
    from derate.loop.run import Result


class Limited(NamedTuple):
    """A junction or node with a limit: what the exact plant found, and its column of the trace.

    ``thing``: how a sentence calls it; times in s, temperatures in degC, margin in K.
    """

    name: str
    thing: str
    column: str
    peak_c: float
    peak_at_s: float
    limit_c: float
    margin_k: float
    above_limit_s: float


def junctions(result: "Result") -> tuple[Limited, ...]:
    """The hottest junction of each channel, in the order of the lamp file."""
    return tuple(
        Limited(
            name,
            f"junction of {name}",
            result.trace.hottest(name),
            merit.peak_junction_c,
            merit.peak_at_s,
            merit.limit_c,
            merit.margin_k,
            merit.above_limit_s,
        )
        for name, merit in result.merit.channels.items()
    )


def tightest_junctions(result: "Result", most: int) -> tuple[Limited, ...]:
    """At most ``most`` channels, those with the least margin, in the order of the lamp file."""
    everything = junctions(result)
    closest = sorted(everything, key=lambda junction: junction.margin_k)[:most]
    return tuple(junction for junction in everything if junction in closest)


def limited_nodes(result: "Result") -> tuple[Limited, ...]:
    """Every other node with a limit."""
    return tuple(
        Limited(
            name,
            limit_words(name),
            f"node_{name}_c",
            merit.peak_c,
            merit.peak_at_s,
            merit.limit_c,
            merit.margin_k,
            merit.above_limit_s,
        )
        for name, merit in result.merit.nodes.items()
    )


def by_margin(result: "Result") -> tuple[Limited, ...]:
    """Everything with a limit, the least margin first."""
    everything = junctions(result) + limited_nodes(result)
    return tuple(sorted(everything, key=lambda limited: limited.margin_k))


def headline(result: "Result") -> str:
    """The verdict without its times: held or exceeded, where, by how much; whether it hunts."""
    return ("Cut short. " if result.merit.cut_short else "") + _closest(result) + _hunts(result)


def verdict(result: "Result") -> str:
    """One sentence: held or exceeded, where, by how much, whether the light hunts.

    If exceeded, also for how long and since when. Of a run that was cut short it says why first.
    """
    first, *rest = by_margin(result)
    sentence = _closest(result)
    if not result.merit.held:
        spell, (times, since_s) = duration(first.above_limit_s), _excursions(result, first)
        often = (
            f"in all, first at {duration(since_s)}" if times > 1 else f"from {duration(since_s)}"
        )
        sentence += f", for {spell} {often}"
        others = sum(limited.margin_k < 0 for limited in rest)
        if others:
            sentence += f"; {others} more {'limit is' if others == 1 else 'limits are'} exceeded"
    cut_short = result.merit.cut_short
    before = f"Cut short: {cut_short}. Until then: " if cut_short else ""
    return before + sentence + _hunts(result) + "."


def verdict_class(result: "Result") -> str:
    """The verdict in one word: ``held``, ``hunts`` (held, but hunting), ``cut`` or ``exceeded``."""
    if not result.merit.held:
        return "exceeded"
    if result.merit.cut_short:
        return "cut"
    return "hunts" if result.merit.hunting else "held"


def _closest(result: "Result") -> str:
    """Held or exceeded, and what came closest to its limit."""
    first = by_margin(result)[0]
    word = "Held" if result.merit.held else "Exceeded"
    if result.merit.ran_away_at_s is not None:
        return f"{word}: {first.thing} passes {first.peak_c:.0f} degC, where the run ends"
    thing = "hottest junction" if _is_only_junction(result, first) else first.thing
    return f"{word}: {thing} {first.peak_c:.1f} degC, {below_or_above(first.margin_k)}"


def _hunts(result: "Result") -> str:
    """That the light hunts, as the end of a sentence; nothing if it does not."""
    hunting = result.merit.hunting
    if hunting is None:
        return ""
    word = "but" if result.merit.held else "and"
    return f", {word} the light hunts, every {duration(hunting.period_s)}"


def _is_only_junction(result: "Result", first: Limited) -> bool:
    return len(result.merit.channels) == 1 and first in junctions(result)


def _excursions(result: "Result", limited: Limited) -> tuple[int, float]:
    """How often the trace shows it passing its limit, and when first [s].

    One that falls between two ticks is dated by the peak.
    """
    above = result.trace[limited.column] > limited.limit_c
    begins = np.flatnonzero(above & ~np.concatenate(([False], above[:-1])))
    if len(begins) == 0:
        return 1, limited.peak_at_s
    return len(begins), float(result.trace["time_s"][begins[0]])
