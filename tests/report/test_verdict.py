"""The verdict in one sentence."""

import re
from dataclasses import replace

import numpy as np

from derate.report.verdict import by_margin, headline, verdict, verdict_class


def only(result, channel, **changes):
    """The result with a single channel and no other limits."""
    channels = {channel: result.merit.channels[channel]}
    return replace(result, merit=replace(result.merit, channels=channels, nodes={}, **changes))


def steady(result):
    """The result without hunting."""
    return replace(result, merit=replace(result.merit, hunting=None))


def test_hunting_is_part_of_the_verdict(held, exceeded):
    """That the light hunts is said in verdict and headline, of a held run as of another."""
    hunts = replace(held, merit=replace(held.merit, hunting=exceeded.merit.hunting))
    assert headline(hunts) == (
        "Held: housing 60.6 degC, 4.4 K below its limit, but the light hunts, every 38 s"
    )
    assert verdict(hunts) == headline(hunts) + "."
    assert verdict(exceeded).endswith("from 13 min 13 s, and the light hunts, every 38 s.")
    assert headline(exceeded).endswith("above its limit, and the light hunts, every 38 s")
    assert [verdict_class(r) for r in (held, hunts, exceeded)] == ["held", "hunts", "exceeded"]


def test_held_names_the_least_margin(held):
    """A held run says what came closest, how hot, and how far below its limit."""
    assert verdict(held) == "Held: housing 60.6 degC, 4.4 K below its limit."
    assert [limited.name for limited in by_margin(held)] == ["housing", "high_beam", "low_beam"]


def test_held_with_one_channel(held):
    """With one channel and nothing else limited there is no need for its name."""
    assert verdict(only(held, "high_beam")).startswith("Held: hottest junction 119.5 degC, 5.5 K")


def test_exceeded_says_how_long_and_since_when(exceeded):
    """An exceeded run says where, by how much, for how long and since when."""
    assert verdict(steady(exceeded)) == (
        "Exceeded: junction of high_beam 119.5 degC, 3.5 K above its limit, "
        "for 2 min 28 s from 13 min 13 s."
    )
    assert headline(steady(exceeded)) in verdict(steady(exceeded))


def test_others_exceeded_are_counted(exceeded):
    """Further limits that were passed are not hidden behind the worst."""
    housing = replace(exceeded.merit.nodes["housing"], limit_c=59.0, margin_k=-1.6)
    several = replace(
        exceeded, merit=replace(exceeded.merit, nodes={"housing": housing}, hunting=None)
    )
    assert verdict(several).endswith("; 1 more limit is exceeded.")


def test_a_peak_between_ticks_has_its_time(exceeded):
    """A limit passed between two ticks only is dated by its peak."""
    brief = replace(
        exceeded.merit.channels["high_beam"], limit_c=119.6, margin_k=-0.2, peak_at_s=61.0
    )
    result = only(exceeded, "high_beam", hunting=None)
    merit = replace(result.merit, channels={"high_beam": brief})
    assert verdict(replace(result, merit=merit)).endswith("from 1 min 01 s.")


def test_several_excursions_are_not_told_as_one(exceeded):
    """A limit passed more than once: the time is a sum, and the sentence says so."""
    time_s = exceeded.trace["time_s"]
    twice = np.where((time_s % 1000 > 100) & (time_s % 1000 < 110), 119.0, 60.0)
    columns = {**exceeded.trace.columns, "junction_high_beam_c": twice}
    result = replace(exceeded, trace=replace(exceeded.trace, columns=columns))
    assert verdict(steady(result)).endswith("for 2 min 28 s in all, first at 1 min 40 s.")


def test_a_runaway_is_not_given_a_temperature(exceeded):
    """Of a lamp that runs away the verdict says so instead of a number that means nothing."""
    merit = replace(exceeded.merit, ran_away_at_s=12.0)
    words = verdict(replace(exceeded, merit=merit))
    assert re.match(r"Exceeded: \S.* passes \d+ degC, where the run ends", words)
