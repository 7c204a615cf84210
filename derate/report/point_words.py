"""The operating point in words: its verdict, names of places, shares, what counts in a list."""

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from derate.report.words import below_or_above, figures, number, signed

if TYPE_CHECKING:
    from derate.study.helps import Help, WhatIf
    from derate.study.operation import ChannelPoint, NodePoint
    from derate.study.point import PointStudy

TENTH = 10.0
"""Measures are told per this many percent."""
LEAST_K = 0.05
"""A change of a temperature that is not worth a line [K]."""
OF_THE_BOARD = ("solder.", "place.", "board.")


def verdict(study: "PointStudy") -> str:
    """Whether the lamp may rest here, what is nearest to its limit, what may be; and the other."""
    return _verdict(study) + _other(study)


def _other(study: "PointStudy") -> str:
    """A sentence about the lamp that the study is held against; nothing without one."""
    if study.comparison is None:
        return ""
    other = study.comparison.other
    if other.runaway:
        return f" The other lamp, {other.name}, has no rest."
    if not math.isfinite(other.margin_k):
        return ""
    return f" The other, {other.name}: {limited(other.limiting)} {below_or_above(other.margin_k)}."


def _verdict(study: "PointStudy") -> str:
    where = f"at rest in {celsius(study.ambient_c)}"
    if study.stability.runaway:
        return f"Runs away in {celsius(study.ambient_c)}; {_remedy(study)}."
    if study.stability.too_hot:
        return f"Far too hot at rest in {celsius(study.ambient_c)}; {_remedy(study)}."
    if study.limit is None:
        return f"Holds {where}: nothing that has a limit warms up."
    limit = study.limit
    at = f"{limited(limit.node)} {number(limit.temperature_c)} degC"
    state = f"{at}, {below_or_above(limit.margin_k)}"
    if study.holds:
        return f"Holds {where}: {state}."
    return f"Too hot {where}: {state}; {_remedy(study)}."


def standing(study: "PointStudy") -> str:
    """The verdict in one word: ``held`` or ``exceeded``."""
    return "held" if study.holds else "exceeded"


def celsius(value_c: float) -> str:
    """A temperature that somebody chose, without needless digits."""
    return f"{value_c + 0.0:.4g} degC"


def limited(node: str) -> str:
    """A node as a sentence calls it: "junction of spot", "housing", "thermal runaway"."""
    if node == "runaway":
        return "thermal runaway"
    kind, _, rest = node.partition(".")
    called = {"junction": "junction of", "solder": "solder point of"}.get(kind)
    return f"{called} {rest.rpartition('.')[0] or rest}" if called else node


def place(node: str) -> str:
    """A place beside a step of a path: dots that join names give way to spaces.

    Junctions and thermal pads have no number: it would count other than that of solder points.
    """
    words = node.replace(" of junction.", " ").split(".")
    numbered = words[0] == "junction" or node.startswith("thermal pad")
    return " ".join(words[:-1] if numbered and words[-1].isdigit() else words)


def at_words(node: str) -> str:
    """Where a sensor sits: a node, or its place on the board."""
    return "the board" if node.startswith("place.") else node


def cut(text: str, most: int) -> str:
    """A text of at most so many signs, three dots for what is left out."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def situation_words(study: "PointStudy") -> str:
    """Ambient, airflow and request of the point."""
    return (
        f"at rest in {celsius(study.ambient_c)}, airflow {study.airflow:g}, "
        f"request {shares(study.requests)}"
    )


def shares(by_name: Mapping[str, float]) -> str:
    """One share for all, or one for each name."""
    values = list(dict.fromkeys(by_name.values()))
    if len(values) == 1:
        return whole_percent(values[0])
    return ", ".join(f"{name} {whole_percent(value)}" for name, value in by_name.items())


def whole_percent(share: float) -> str:
    """A share as percentage, three digits at most: "100 %", "63 %", "0.4 %"."""
    if not math.isfinite(share):
        return "-"
    return f"{100 * share:.0f} %" if share >= 0.0995 else f"{figures(100 * share, 2)} %"


def helped(study: "PointStudy") -> "list[tuple[str, list[Help]]]":
    """What would help whom: the place that limits, and the nearest junction if it is another.

    The most effective measure first; what does not count is left out, and a place without any.
    """
    found = []
    if study.limit is not None:
        found.append((limited(study.limit.node), measures(study.helps)))
    if study.junction is not None and study.junction != study.limit:
        found.append((limited(study.junction.node), measures(study.junction_helps)))
    return [(place, counting) for place, counting in found if counting]


def measures(helps: "Iterable[Help]") -> "list[Help]":
    """Those that count, the most effective first."""
    counting = [one for one in helps if TENTH * abs(one.per_percent_k) >= LEAST_K]
    return sorted(counting, key=lambda one: abs(one.per_percent_k), reverse=True)


def measure_words(one: "Help") -> str:
    """A measure and the way that helps: "10 % more area of surface fins"."""
    return f"{TENTH:.0f} % {'less' if one.per_percent_k > 0 else 'more'} {one.what}"


def measure_k(one: "Help") -> float:
    """How much cooler a tenth of the measure makes the limiting place [K]."""
    return TENTH * abs(one.per_percent_k)


def what_if_figures(one: "WhatIf") -> tuple[str, str, str, str]:
    """What a change does to limiting place and junction, in words; light here, permitted [lm].

    A temperature has a word instead of a sign, which would be read as gain or loss.
    """
    if not math.isfinite(one.limiting_k):
        return "no rest", "-", "-", "-"
    light = signed(one.light_lm, 0), signed(one.permitted_lm, 0)
    return cooler(-one.limiting_k), cooler(-one.junction_k), *light


def cooler(gain_k: float) -> str:
    """How much cooler a place becomes [K], "warmer" where that is negative; a dash for none."""
    if not math.isfinite(gain_k):
        return "-"
    size = number(abs(gain_k))
    return f"{size} K {'cooler' if gain_k > 0 else 'warmer'}" if float(size) else "as it is"


def told_nodes(study: "PointStudy") -> "list[NodePoint]":
    """Nodes for a short list: of the points of the board only the hottest with a limit."""
    hottest = {one.solder for one in study.channels}
    return [
        one
        for one in study.nodes
        if not one.name.startswith(OF_THE_BOARD)
        or (one.limit_c is not None and one.name in hottest)
    ]


def closest_channels(study: "PointStudy", most: int) -> "list[ChannelPoint]":
    """At most ``most`` channels, those with the least margin, in the order of the lamp file."""
    ordered = sorted(study.channels, key=lambda one: one.margin_k)[:most]
    return [one for one in study.channels if one in ordered]


def thresholds_c(study: "PointStudy") -> Iterator[tuple[str, float]]:
    """Readings at which control acts: those of the policy, then the cut-off [degC]."""
    controller = study.lamp.controller
    for key, value_c in controller.policy.thresholds_c.items():
        name = key.removesuffix(".at").replace("levels.", "level ")
        yield (f"level {int(name[6:]) + 1}" if name.startswith("level ") else name), value_c
    yield "cut-off", controller.cutoff_c


def _remedy(study: "PointStudy") -> str:
    """What would be permitted instead."""
    here = study.derating.here
    if here > 0:
        return f"{whole_percent(here)} of full drive is permitted"
    return "no drive at all is permitted"
