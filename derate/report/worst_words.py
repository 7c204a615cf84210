"""A bound for every history in words: places, verdict, the history that comes near, what acts."""

from typing import TYPE_CHECKING

from derate.lamp.limit import limit_words
from derate.limits.worst.study import CUTOUT, JUNCTION
from derate.report.words import below_or_above, duration, number, percent

if TYPE_CHECKING:
    from derate.lamp.course import ShareCourse
    from derate.limits.worst.replay import Replay
    from derate.limits.worst.span import Span
    from derate.limits.worst.study import PlaceBound, UnitBounds, Worst

MOST_STEPS = 5
"""Steps of a request that are told one by one."""
ALIKE_K = 0.5
"""A bound this near to full light for ever is none of control's making [K]."""
RESTS = (
    "Bound, for every history of requests and airflow, each ambient constant, every reading within"
    " its error budget; found by linear programmes, evaluated tick by tick"
)
NOT_MODELLED = (
    "sensor faults: `derate faults` tries them, and `derate challenge` searches with them",
    "ambients that change while the lamp runs, and starts from elsewhere than rest in the ambient",
    "a controller that is restarted while the lamp is hot",
    "parts beyond their tolerances, ageing, dirt and mounting in use",
    "whether the corner of the tolerances is their worst combination: one part at a time says so",
)


def thing(name: str) -> str:
    """A bounded place as a sentence calls it."""
    if name.startswith(JUNCTION):
        return f"junction of {name.removeprefix(JUNCTION)}"
    if name.startswith(CUTOUT):
        return f"element of cut-out {name.removeprefix(CUTOUT)}"
    return limit_words(name)


def limit_name(place: "PlaceBound") -> str:
    """What a place must stay below."""
    return "least trip temperature" if place.name.startswith(CUTOUT) else "limit"


def verdict(study: "Worst") -> str:
    """Whether every place stays within its limit, and by how much: one or two sentences."""
    unit = study.units[0]
    place = unit.places[0]
    where = "" if unit.name == "as described" else f" at the {unit.name} of the tolerances"
    if study.holds:
        return (
            f"No history brings any place over its limit: the nearest is the {thing(place.name)},"
            f" bounded by {place.bound_c:.1f} degC{where}, {below_or_above(place.margin_k)}."
        )
    replay = place.replay
    if replay is not None and replay.peak_c > place.limit_c:
        return (
            f"A history brings the {thing(place.name)} to {replay.peak_c:.1f} degC{where},"
            f" {below_or_above(place.limit_c - replay.peak_c)}; none brings it beyond"
            f" {place.bound_c:.1f} degC."
        )
    found = (
        "" if replay is None else f"; the hottest history found reaches {replay.peak_c:.1f} degC"
    )
    return (
        f"Not shown to hold: the {thing(place.name)} is bounded by {place.bound_c:.1f} degC{where},"
        f" {below_or_above(place.margin_k)}{found}."
    )


def span_words(span: "Span") -> str:
    """The air that the bound holds for."""
    (cold_c, hot_c), (least, most) = span
    ambient = f"any ambient from {cold_c:g} to {hot_c:g} degC"
    ambient = f"ambient {hot_c:g} degC" if cold_c == hot_c else ambient
    if least == most:
        return f"{ambient}, airflow {least:.3g}" if least != 1.0 else ambient
    return f"{ambient}, any airflow from {least:.3g} to {most:.3g}"


def history_words(study: "Worst", place: "PlaceBound") -> str:
    """The history that comes near the bound of a place, as one would say it."""
    replay = place.replay
    if replay is None:
        return ""
    ambient = replay.history.ambient
    courses = ambient.values() if isinstance(ambient, dict) else (ambient,)
    at_c = " and ".join(dict.fromkeys(f"{course.knots[0]:g}" for course in courses))
    asked = {name: steps_words(course) for name, course in replay.history.request.items()}
    if len(set(asked.values())) == 1:
        said = next(iter(asked.values()))
    else:
        said = "; ".join(f"{name} {words}" for name, words in asked.items())
    air = ""
    if len(replay.history.airflow.knots) > 1:
        air = f", airflow between {min(replay.history.airflow.knots):.3g} and"
        air += f" {max(replay.history.airflow.knots):.3g}"
    return (
        f"ambient {at_c} degC{air}, {said}: {thing(place.name)} {replay.peak_c:.1f} degC at"
        f" {duration(replay.peak_at_s)}"
    )


def steps_words(course: "ShareCourse") -> str:
    """A course of requests: "12 min at full, 40 s off, full"."""
    values = [("off" if v == 0 else "full" if v == 1 else percent(v)) for v in course.knots]
    if len(values) == 1:
        return values[0]
    lasts = [after - before for before, after in zip(course.at_s, course.at_s[1:], strict=False)]
    told = [
        f"{duration(last_s)} {'off' if value == 'off' else 'at ' + value}"
        for value, last_s in zip(values, lasts, strict=False)
    ]
    told.append(values[-1])
    left = len(told) - MOST_STEPS
    earlier = [] if left <= 0 else ["1 step"] if left == 1 else [f"{left} steps"]
    return ", ".join(earlier + told[-MOST_STEPS:])


def acting_words(unit: "UnitBounds", place: "PlaceBound") -> str:
    """What holds a place at its bound."""
    if place.bound_c >= place.open_c - ALIKE_K:
        return "nothing: it is bounded by full light for ever alone"
    found, prices = unit.watched, place.bound.prices
    worth = prices.of_line.sum(axis=0)
    if not len(worth) or worth.max() <= 0.0:
        return "that it takes time to get warm"
    law = found.law
    from_c, to_c = law.reading_c[0], min(float(found.hottest_c.max()), law.reading_c[-1])
    if law.reading_c[0] == law.reading_c[-1]:
        return f"the cut-off at {law.reading_c[-1]:g} degC"
    return f"the policy, between readings of {from_c:g} and {to_c:.4g} degC"


def shift_words(study: "Worst") -> str:
    """How far thresholds may rise, or must fall."""
    if study.shift_k is None:
        place = study.units[0].places[0]
        if place.open_c <= place.limit_c:
            return "any will do: full light for ever holds the limit"
        return "no shift of all thresholds was found that brings the bound to the limit"
    if study.shift_k >= 0.0:
        return f"all thresholds but the cut-off may be {number(study.shift_k)} K higher"
    return f"all thresholds but the cut-off must be {number(-study.shift_k)} K lower"


def gap_words(unit: "UnitBounds") -> str:
    """How near the replays come."""
    return "; ".join(
        f"{thing(place.name)} {place.replay.peak_c:.1f} of {place.bound_c:.1f} degC,"
        f" {number(place.gap_k or 0.0, 2)} K apart"
        for place in unit.places
        if place.replay is not None
    )


def moved_words(unit: "UnitBounds") -> str:
    """Which parts a corner has at which ends: "links.interface.resistance 0.7"."""
    return ", ".join(f"{key} {value:g}" for key, value in unit.moved.items())


def burst_words(replay: "Replay", place: "PlaceBound") -> str:
    """What steady thinking promises, what the loop does and what the bound says."""
    return (
        f"steady full light {replay.steady_c:.1f} degC, worst history {replay.peak_c:.1f} degC,"
        f" bound {place.bound_c:.1f} degC"
    )
