"""The operating point told in sentences, for the terminal, the page and the JSON document."""

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from derate.report.words import below_or_above, figures, percent

if TYPE_CHECKING:
    from derate.study.best import BestCommand
    from derate.study.derating import Derating
    from derate.study.helps import Help, WhatIf
    from derate.study.operation import ChannelPoint, NodePoint, Power, SensorPoint
    from derate.study.point import PointStudy

TENTH = 10.0
"""Measures are told per this many percent."""
LEAST_K = 0.05
"""A change of a temperature that is not worth a line [K]."""
MOST_MEASURES = 3
OF_THE_BOARD = ("solder.", "place.", "board.")


def verdict(study: "PointStudy") -> str:
    """One sentence: whether the lamp may rest here, what is nearest to its limit, what may be."""
    where = f"at rest in {celsius(study.ambient_c)}"
    if study.stability.runaway:
        return f"Runs away in {celsius(study.ambient_c)}; {_remedy(study)}."
    if study.limit is None:
        return f"Holds {where}: nothing that has a limit warms up."
    limit = study.limit
    state = f"{limited(limit.node)} {limit.temperature_c:.1f} degC, {_margin(limit.margin_k)}"
    if study.holds:
        return f"Holds {where}: {state}."
    return f"Too hot {where}: {state}; {_remedy(study)}."


def standing(study: "PointStudy") -> str:
    """The verdict in one word: ``held`` or ``exceeded``."""
    return "held" if study.holds else "exceeded"


def celsius(value_c: float) -> str:
    """A temperature that somebody chose, without needless digits."""
    return f"{value_c:.4g} degC"


def limited(node: str) -> str:
    """A node as a sentence calls it: "junction of spot", "housing", "the rest itself"."""
    if node == "runaway":
        return "thermal runaway"
    kind, _, rest = node.partition(".")
    return f"junction of {rest.rpartition('.')[0] or rest}" if kind == "junction" else node


def place(node: str) -> str:
    """A node beside a step of a path: dots that join names give way to spaces."""
    return node.replace(".", " ")


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


def derating_words(derating: "Derating", ambient_c: float) -> str:
    """The derating curve in one line: up to where, from where on, how much here and why."""
    words = []
    if math.isfinite(derating.full_until_c):
        words.append(f"full drive to {derating.full_until_c:.0f} degC{_first_acting(derating)}")
    elif min(derating.permitted) < 1:
        words.append(f"less than full drive from {derating.ambient_c[0]:.0f} degC on")
    else:
        words.append(f"full drive to {derating.ambient_c[-1]:.0f} degC and more")
    if math.isfinite(derating.dark_from_c):
        words.append(f"none from {derating.dark_from_c:.0f} degC")
    return ", ".join(words) + f"; {here_words(derating, ambient_c)}"


def here_words(derating: "Derating", ambient_c: float) -> str:
    """What is permitted at the ambient of the point, and what says so."""
    words = f"in {celsius(ambient_c)} {whole_percent(derating.here)}, {derating.here_lm:.0f} lm"
    return words + (f", stopped by {limited(derating.here_acting)}" if derating.here_acting else "")


def best_words(best: "BestCommand") -> str:
    """Which command gives most light, and whether more would give less."""
    if len(best.command) == 0:
        return "no command has a rest here"
    if best.falls:
        return (
            f"most light, {best.most_lm:.0f} lm, at {whole_percent(best.most_at)} of the full "
            "current, limits left aside; beyond it more current gives less"
        )
    return (
        f"more current gives more light up to {whole_percent(best.most_at)} of the full current, "
        f"where it gives {best.most_lm:.0f} lm, limits left aside"
    )


def measures(study: "PointStudy") -> "list[Help]":
    """What would help the limiting place, the most effective first, what does not count left out.

    One line for each quantity, even where several keys of the file lead to it.
    """
    counting = [one for one in study.helps if TENTH * abs(one.per_percent_k) >= LEAST_K]
    return sorted(counting, key=lambda one: abs(one.per_percent_k), reverse=True)


def measure_words(one: "Help") -> str:
    """A measure and the way that helps: "10 % more area of surface fins"."""
    return f"{TENTH:.0f} % {'less' if one.per_percent_k > 0 else 'more'} {one.what}"


def measure_k(one: "Help") -> float:
    """How much cooler a tenth of the measure makes the limiting place [K]."""
    return TENTH * abs(one.per_percent_k)


def helps_words(study: "PointStudy") -> str:
    """The best measures in one line; empty without any."""
    return "; ".join(
        f"{measure_words(one)}: {figures(measure_k(one), 2)} K cooler"
        for one in measures(study)[:MOST_MEASURES]
    )


def what_if_figures(one: "WhatIf") -> tuple[str, str, str]:
    """What a change does: the limiting place [K], the light here and the permitted light [lm]."""
    if not math.isfinite(one.limiting_k):
        return "runs away", "-", "-"
    return _signed(one.limiting_k, 1), _signed(one.light_lm, 0), _signed(one.permitted_lm, 0)


def safe_words(study: "PointStudy") -> str:
    """Up to which ambient each level of full drive may be had."""
    words = [
        f"{whole_percent(one.level)} up to {one.ambient_c:.0f} degC"
        for one in study.safe_ambients
        if math.isfinite(one.ambient_c)
    ]
    return ", ".join(words) or "no level looked at is safe in any ambient looked at"


def power_words(power: "Power") -> str:
    """What the supply gives, and where it goes."""
    if not math.isfinite(power.supply_w):
        return "no balance without a rest"
    parts = [f"{figures(power.radiant_w)} W as light", f"{figures(power.heat_w)} W heat of LEDs"]
    if power.driver_loss_w:
        parts.append(f"{figures(power.driver_loss_w)} W driver")
    if power.bypass_w:
        parts.append(f"{figures(power.bypass_w)} W bypass")
    return (
        f"{figures(power.supply_w)} W from the supply: {', '.join(parts)}; "
        f"{power.light_lm:.0f} lm, {power.efficacy_lm_per_w:.0f} lm/W in all"
    )


def ripple_words(study: "PointStudy") -> str:
    """The crest of the PWM ripple, where it counts."""
    crests = {one.name: one.ripple_k for one in study.channels if one.ripple_k >= LEAST_K}
    if not crests:
        return ""
    each = ", ".join(f"{name} {figures(crest_k, 2)} K" for name, crest_k in crests.items())
    return f"crest of a junction above its mean: {each}; counted in what is left to the limit"


def sensor_words(sensor: "SensorPoint") -> str:
    """What a sensor reads, and how far it may be off."""
    if not math.isfinite(sensor.thermistor_c):
        return "nothing to read without a rest"
    if not math.isfinite(sensor.reading_c):
        fault = sensor.fault or "faulty"
        return f"code {sensor.code}, taken for {fault}, thermistor {sensor.thermistor_c:.1f} degC"
    words = (
        f"reads {sensor.reading_c:.1f} degC (code {sensor.code}), thermistor "
        f"{sensor.thermistor_c:.1f}, its place {sensor.place_c:.1f} degC"
    )
    if math.isfinite(sensor.low_k):
        words += f"; off by {sensor.low_k:+.1f} to {sensor.high_k:+.1f} K at worst"
    return words


def threshold_words(study: "PointStudy") -> list[tuple[str, str]]:
    """For each sensor what it reads where a junction meets its limit, along each curve."""
    told = []
    for relation in study.thresholds:
        met = [
            f"{one.reading_c:.1f} degC as junction of {one.channel} meets its limit"
            f" ({_met_at(one.varied, one.value)})"
            for one in relation.at_limit
            if math.isfinite(one.reading_c)
        ]
        told.append((relation.sensor, "; ".join(met) or "no junction meets its limit"))
    return told


def settled_words(study: "PointStudy") -> str:
    """Where thermal control comes to rest, in one line."""
    if study.settled is None:
        return "the policy cannot be asked here"
    words = study.settled.sentence.rstrip(".")
    words = words[:1].lower() + words[1:]
    return words if study.settled.holds else f"{words}; a limit is passed there"


def told_nodes(study: "PointStudy") -> "list[NodePoint]":
    """Nodes for a short list: not every point of the board."""
    return [one for one in study.nodes if not one.name.startswith(OF_THE_BOARD)]


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


def _first_acting(derating: "Derating") -> str:
    """What ends full drive first, in brackets."""
    first = next((acting for acting in derating.acting if acting), "")
    return f" ({limited(first)})" if first else ""


def _signed(value: float, digits: int) -> str:
    """A change with its sign, 0 without one."""
    words = f"{value:+.{digits}f}"
    return words if float(words) else words[1:]


def _margin(margin_k: float) -> str:
    return below_or_above(margin_k)


def _met_at(varied: str, value: float) -> str:
    return f"ambient {value:.0f} degC" if varied == "ambient" else f"request {percent(value)}"


def _remedy(study: "PointStudy") -> str:
    """What would be permitted instead."""
    here = study.derating.here
    if here > 0:
        return f"{whole_percent(here)} of full drive is permitted"
    return "no drive at all is permitted"


def path_words(study: "PointStudy") -> str:
    """The largest drop of every path."""
    told = []
    for path in study.paths:
        step = max(path.steps, key=lambda step: step.drop_k)
        told.append(
            f"{path.channel}: {step.drop_k:.1f} of {path.rise_k:.1f} K from {place(step.start)} "
            f"to {place(step.end)}"
        )
    return "; ".join(told)


def places_words(study: "PointStudy") -> str:
    """Where a thermistor is advised, and what it misses there."""
    places = study.board.places if study.board else None
    if places is None:
        return ""
    x_m, y_m = places.advised_m
    return (
        f"advised at {1e3 * x_m:.1f} mm, {1e3 * y_m:.1f} mm: {places.advised_offset_k:.1f} K below "
        f"the hottest junction, {figures(places.advised_lag_s, 2)} s behind it"
    )
