"""Part tolerances in words: the verdict, what N units show, what matters most."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from derate.lamp.limit import limit_words
from derate.report.words import below_or_above, figures, number, percent, signed

if TYPE_CHECKING:
    from derate.study.chance import Chance
    from derate.study.importance import Effect, Importance
    from derate.study.spread import Distribution, Spread

MINUTE_S = 60.0
MOST_EFFECTS = 4
LEAST_SHARE = 0.01
"""Of the variance; what brings less is not worth a word."""
POORLY_EXPLAINED = 0.7
SUBJECTS = {
    "margin": ("least margin", "K", 1.0),
    "share": ("light of what was asked", "%", 100.0),
    "light": ("light", "lm h", 1.0),
}
"""What importance is told of: its name, its unit, and how many of that unit are one of ours."""


class Row(NamedTuple):
    """One figure in the table: at the quantiles, at the worst unit, its limit, how many over it."""

    name: str
    unit: str
    cells: tuple[str, ...]
    limit: str = ""
    over: str = ""
    exceeded: bool = False


def rows_of(study: "Spread") -> list[Row]:
    """The table that terminal and page show."""
    rows = []
    for place, peak, over in zip(study.places, study.peaks, study.over_each, strict=True):
        limit, exceeded = f"{place.limit_c:g}", over.over > 0
        name = place.name if place.junction else limit_words(place.name)
        rows.append(Row(name, "degC", _cells(peak), limit, str(over.over), exceeded))
    margin = _cells(study.margin_k)
    rows.append(Row("least margin", "K", margin, "0", str(study.over.over), study.over.over > 0))
    rows.append(Row("light of asked", "%", _cells(study.share, 100.0)))
    rows.append(Row("light", "lm h", _cells(study.light_lm_h)))
    rows.append(Row("held back", "min", _cells(study.throttled_s, 1 / MINUTE_S)))
    rows.append(Row("reversals", "", _cells(study.reversals, digits=0)))
    return rows


def _cells(one: "Distribution", factor: float = 1.0, digits: int | None = None) -> tuple[str, ...]:
    values = [factor * value for value in (*one.quantiles, one.worst)]
    if digits is None:
        digits = 0 if max(map(abs, values)) >= 1000 else 1
    return tuple(number(value, digits) for value in values)


def standing(study: "Spread") -> str:
    """The verdict in one word: ``held`` or ``exceeded``."""
    return "held" if study.held else "exceeded"


def verdict(study: "Spread") -> str:
    """How many units pass a limit, and the worst of them."""
    over = study.over
    if study.held:
        return f"Held: none of {over.drawn} units passes a limit; the worst, {worst_words(study)}."
    passes = "passes" if over.over == 1 else "pass"
    share = percent(over.share)
    return (
        f"Exceeded: {over.over} of {over.drawn} units ({share}) {passes} a limit; the worst, "
        f"{worst_words(study)}."
    )


def worst_words(study: "Spread") -> str:
    """The unit of least margin, and what comes nearest to its limit in it."""
    unit = study.worst[0]
    row = int(np.flatnonzero(study.figures.units == unit)[0])
    peaks_c = study.figures.peak_c[row]
    margins_k = np.array([place.limit_c for place in study.places]) - peaks_c
    place = study.places[int(np.argmin(margins_k))]
    thing = f"junction of {place.name}" if place.junction else limit_words(place.name)
    peak_c, margin_k = float(peaks_c[np.argmin(margins_k)]), float(margins_k.min())
    return f"unit {unit}: {thing} {number(peak_c)} degC, {below_or_above(margin_k)}"


def chance_words(over: "Chance") -> str:
    """What the drawn units can show of all units, and what they cannot."""
    sure = f"{100 * over.confidence:.0f} % confidence"
    most = small_share(over.at_most)
    if over.over == 0:
        return (
            f"none of {over.drawn} over shows that at most {most} of all units are, with {sure} "
            f"(exact; rule of three, common practice: {small_share(3 / over.drawn)}); it does not "
            "show that none is"
        )
    return (
        f"{over.over} of {over.drawn} over: of all units {small_share(over.low)} to "
        f"{small_share(over.high)}, with {sure} (exact)"
    )


def small_share(share: float) -> str:
    """A share that may be small, two significant figures of its percentage."""
    return f"{figures(100 * min(share, 1.0), 2)} %"


def tripped_words(study: "Spread") -> str:
    """How many units would have opened a cut-out, the most touchy of its kind."""
    tripped = study.tripped
    if tripped is None:
        return ""
    least_k = float(study.figures.trip_margin_k.min())
    if tripped.over == 0:
        return (
            f"none of {tripped.drawn} units would have tripped the cut-out in service; the nearest "
            f"stays {number(least_k)} K below the least temperature at which one may open"
        )
    return (
        f"{tripped.over} of {tripped.drawn} units would have tripped the cut-out in service, the "
        "most touchy of its kind; that they are dark from there on is not in these figures"
    )


def near_words(study: "Spread") -> str:
    """How many units come into the guard band and pass no limit."""
    units = "unit comes" if study.near == 1 else "units come"
    return f"{study.near} {units} nearer than {study.guard_k:g} K to a limit without passing it"


def importance_words(found: "Importance | None", subject: str) -> str:
    """What a figure depends on most, the largest first, with its share of the variance."""
    name, unit, factor = SUBJECTS[subject]
    if found is None:
        return f"{name}: varies too little, or too few units or tolerances to tell"
    counting = [one for one in found.effects if one.first >= LEAST_SHARE][:MOST_EFFECTS]
    of = [" of the variance", *[""] * (MOST_EFFECTS - 1)]
    told = ", ".join(
        f"{one.name} {100 * one.first:.0f} %{more} ({slope_words(one, found, unit, factor)})"
        for one, more in zip(counting, of, strict=False)
    )
    return f"{told or 'nothing by itself'}{_rest_words(found)}"


def slope_words(one: "Effect", found: "Importance", unit: str, factor: float) -> str:
    """What one standard deviation more of each of its draws does."""
    scale = factor * found.deviation
    steps = {name: signed(scale * slope, _digits(scale)) for name, slope in one.slopes.items()}
    if len(steps) == 1:
        return f"{next(iter(steps.values()))} {unit} a sigma"
    told = sorted(one.slopes, key=lambda name: -abs(one.slopes[name]))[:2]
    return ", ".join(f"{name} {steps[name]}" for name in told) + f" {unit} a sigma"


def _digits(scale: float) -> int:
    """Decimals that show a change of a hundredth of the deviation, three at most."""
    return 0 if scale >= 100 else 1 if scale >= 10 else 2 if scale >= 0.1 else 3


def _rest_words(found: "Importance") -> str:
    if found.explained >= POORLY_EXPLAINED:
        return ""
    return (
        f"; curves and noise leave {100 * (1 - found.explained):.0f} % of it unexplained, so take "
        "these as an order"
    )


def file_of(study: "Spread", unit: int) -> str:
    """The name of the file that describes a unit."""
    return f"worst_{unit:0{max(4, len(str(study.asked - 1)))}d}.toml"


def replay_words(study: "Spread") -> str:
    """How the worst units are run again."""
    first, *others = study.worst
    seed = f" --seed {study.seed}" if study.seed else ""
    more = f"; also {', '.join(file_of(study, unit) for unit in others)}" if others else ""
    return f"derate run {file_of(study, first)}{seed}{more}"


def title_words(study: "Spread") -> str:
    """What was run."""
    count = study.over.drawn
    units = f"{count} units" if count == study.asked else f"{count} of {study.asked} units"
    return f"profile {study.profile_name}, {units}, seed {study.seed}"
