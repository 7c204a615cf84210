"""A search for a counterexample in words: the history as one sentence, and the verdict."""

from typing import TYPE_CHECKING

from derate.lamp.variation import variations
from derate.lamp.varying import OF_PROFILE
from derate.limits.telling import lived
from derate.report.verdict import by_margin
from derate.report.words import below_or_above, duration, percent

if TYPE_CHECKING:
    from derate.limits.challenge import Challenge
    from derate.limits.trials import Finding

VISIBLE = "7.4 % is just noticeable"
SCORES_TOLD = 3


def told(study: "Challenge") -> str:
    """The finding in one sentence: ambient, what is asked for and what befalls, and what comes."""
    nearest = by_margin(study.replay)[0]
    peak = f"{nearest.thing} {nearest.peak_c:.1f} degC at {duration(nearest.peak_at_s)}"
    return f"{_lived(study, study.found)}: {peak}"


def _lived(study: "Challenge", finding: "Finding") -> str:
    """Place and history of a finding, as one would say them."""
    place, space = finding.surroundings, study.space
    return lived(
        finding.history,
        place.ambient_c(space),
        tuple(study.lamp.channels),
        unit="" if place.nominal else f"the {place.unit.name} of the tolerances",
        air=space.airflow[0] != space.airflow[1],
    )


def verdict(study: "Challenge") -> str:
    """Whether a counterexample was found, and what that rests on: one or two sentences."""
    nearest = by_margin(study.replay)[0]
    rests = f"search, {study.histories} histories"
    guard_k = study.wanted.guard_k
    if study.passed:
        passed = below_or_above(nearest.margin_k)
        if nearest.margin_k >= 0.0:
            passed += f", and {guard_k:g} K are asked for"
        return f"Counterexample ({rests}): {told(study)}, {passed}."
    light = ""
    if study.wanted.light and study.seen.broken:
        light = f"Counterexample of the light: {light_words(study)}. "
    return (
        f"{light}No counterexample found ({rests}; no proof): the nearest is {nearest.thing}, "
        f"{below_or_above(study.margin_k)}."
    )


def light_words(study: "Challenge") -> str:
    """What is seen of the light of the nominal lamp without faults."""
    seen = study.seen
    if seen.step_in is None and seen.period_s is None:
        return "no step within a second was seen"
    words = f"a step of {percent(seen.step)} within a second at most ({VISIBLE})"
    if seen.visible and seen.step_in is not None:
        words += f", in {_lived(study, seen.step_in)}"
    if seen.period_s is not None:
        swing = f"{duration(seen.period_s)}, by {percent(seen.swing)} of full light"
        words += f"; it hunts with a period of {swing}"
    return words


def searched(study: "Challenge") -> str:
    """What was searched."""
    space = study.space
    spans = []
    for name, hottest_c in space.hottest_c.items():
        cold_c = space.coldest_c[name]
        span = f"{cold_c:g} degC" if cold_c == hottest_c else f"{cold_c:g} to {hottest_c:g} degC"
        spans.append(f"{name} {span}")
    if space.airflow[0] != space.airflow[1]:
        spans.append(f"airflow {space.airflow[0]:.3g} to {space.airflow[1]:.3g}")
    faults = ", ".join(space.faults) if space.faults else "no faults"
    cut = f"; {study.cut_short} before its end" if study.cut_short else ""
    return (
        f"{study.histories} histories up to {duration(space.duration_s)}, {study.runs} runs; "
        f"{', '.join(spans)}; {faults}{cut}"
    )


def unit_words(study: "Challenge") -> str:
    """Which parts of the unit lie farthest out, empty for the nominal lamp."""
    unit = study.found.surroundings.unit
    moved = {one.name for one in variations(study.lamp) if one.keys[0].key not in OF_PROFILE}
    scores = {name: score for name, score in unit.scores.items() if name in moved}
    if not scores:
        return ""
    far = sorted(scores.items(), key=lambda item: -abs(item[1]))[:SCORES_TOLD]
    return "farthest out: " + ", ".join(f"{name} {score:+.1f} sigma" for name, score in far)


def rests_on(study: "Challenge") -> tuple[str, ...]:
    """What the verdict does not say."""
    return (
        "a search finds, it does not prove: other histories may be worse",
        "ambients stay as they are during a history, and requests are constant piece by piece",
        *study.doubts,
    )
