"""What there is to say of an operating point, a sentence a topic."""

import math
from typing import TYPE_CHECKING

from derate.report.point_words import (
    LEAST_K,
    celsius,
    helped,
    limited,
    measure_k,
    measure_words,
    place,
    whole_percent,
)
from derate.report.words import figures, number, percent, signed

if TYPE_CHECKING:
    from derate.study.best import BestCommand
    from derate.study.derating import Derating
    from derate.study.operation import Power, SensorPoint
    from derate.study.point import PointStudy
    from derate.study.threshold import ThresholdRelation

MOST_MEASURES = 3
"""Of what would help, as many are told in one line."""
ALMOST_C = 0.01
"""An ambient this little below a whole degree counts as that degree."""


def derating_words(derating: "Derating", ambient_c: float) -> str:
    """The derating curve in one line: up to where, from where on, how much here and why."""
    words = []
    if math.isfinite(derating.full_until_c):
        words.append(f"full drive to {_at_most(derating.full_until_c)}{_first_acting(derating)}")
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


def safe_words(study: "PointStudy") -> str:
    """Up to which ambient each level of full drive may be had."""
    words = [
        f"{whole_percent(one.level)} up to {_at_most(one.ambient_c)}"
        + ("" if one.acting else " and more")
        for one in study.safe_ambients
        if math.isfinite(one.ambient_c)
    ]
    coldest_c = min(study.derating.ambient_c)
    levels = [whole_percent(one.level) for one in study.safe_ambients]
    return ", ".join(words) or (
        f"none of {', '.join(levels)} keeps every limit, not even in {celsius(coldest_c)}"
    )


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


def helps_words(study: "PointStudy") -> list[tuple[str, str]]:
    """For each place worth cooling its best measures in one line."""
    return [
        (
            place,
            "; ".join(
                f"{measure_words(one)}: {figures(measure_k(one), 2)} K cooler"
                for one in counting[:MOST_MEASURES]
            ),
        )
        for place, counting in helped(study)
    ]


def power_words(power: "Power") -> str:
    """What the supply gives, and where it goes."""
    if not math.isfinite(power.supply_w):
        return "no balance without a rest"
    per_watt = ""
    if math.isfinite(power.efficacy_lm_per_w):
        per_watt = f", {power.efficacy_lm_per_w:.0f} lm/W"
    parts = [f"{figures(power.radiant_w)} W as light", f"{figures(power.heat_w)} W heat of LEDs"]
    if power.driver_loss_w:
        parts.append(f"{figures(power.driver_loss_w)} W driver")
    if power.bypass_w:
        parts.append(f"{figures(power.bypass_w)} W bypass")
    return (
        f"{figures(power.supply_w)} W from the supply: {', '.join(parts)}; "
        f"{power.light_lm:.0f} lm{per_watt} in all"
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
        where = f"thermistor {number(sensor.thermistor_c)} degC"
        return f"code {sensor.code}, taken for {fault}, {where}"
    words = (
        f"reads {number(sensor.reading_c)} degC (code {sensor.code}), thermistor "
        f"{number(sensor.thermistor_c)}, its place {number(sensor.place_c)} degC"
    )
    if math.isfinite(sensor.low_k):
        words += f"; off by {signed(sensor.low_k)} to {signed(sensor.high_k)} K at worst"
    return words


def threshold_words(study: "PointStudy") -> list[tuple[str, str]]:
    """For each sensor what it reads where a junction meets its limit, along each curve."""
    told = []
    for relation in study.thresholds:
        met = [
            f"{number(one.reading_c)} degC as junction of {one.channel} meets its limit"
            f" ({_met_at(one.varied, one.value)})"
            for one in relation.at_limit
            if math.isfinite(one.reading_c)
        ]
        told.append((relation.sensor, "; ".join(met) or _never_met(study, relation)))
    return told


def _never_met(study: "PointStudy", relation: "ThresholdRelation") -> str:
    """What is to be said where no junction comes to its limit along any curve."""
    limits_c = {one.name: one.limit_c for one in study.channels}
    words = []
    for curve in relation.curves:
        if len(curve.value) == 0:
            continue
        by_ambient = curve.varied == "ambient"
        for name, first_c in zip(relation.channels, curve.junction_c[0], strict=True):
            if first_c > limits_c[name]:
                drive = "full drive" if by_ambient else "no drive"
                where = celsius(curve.value[0] if by_ambient else study.ambient_c)
                return (
                    f"none: junction of {name} is beyond its limit already with {drive} in {where}"
                )
        last = celsius(curve.value[-1]) if by_ambient else celsius(study.ambient_c)
        words.append(f"full drive in up to {last}" if by_ambient else f"any request in {last}")
    return f"no junction comes to its limit with {' nor with '.join(words)}"


def settled_words(study: "PointStudy") -> str:
    """Where thermal control comes to rest, in one line."""
    if study.settled is None:
        return "nothing is requested, so nothing is held back"
    words = clause(study.settled.sentence)
    return words if study.settled.holds else f"{words}; a limit is passed there"


def clause(sentence: str) -> str:
    """A sentence as it stands in a list: small at the beginning, no full stop."""
    return sentence[:1].lower() + sentence[1:].rstrip(".")


def path_words(study: "PointStudy") -> str:
    """The largest drop of every path."""
    told = []
    for path in study.paths:
        step = max(path.steps, key=lambda step: step.drop_k)
        told.append(
            f"{path.channel}: {number(step.drop_k)} of {number(path.rise_k)} K from "
            f"{place(step.start)} to {place(step.end)}"
        )
    return "; ".join(told)


def resistance_words(study: "PointStudy") -> str:
    """Junction to ambient of every channel, in both conventions."""
    return "; ".join(
        f"{path.channel} {figures(path.rise_k)} K, {figures(path.real_k_per_w)} K/W real, "
        f"{figures(path.electrical_k_per_w)} K/W electrical"
        for path in study.paths
    )


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


def _at_most(value_c: float) -> str:
    """An ambient up to which something holds, in whole degrees, never too many."""
    return f"{math.floor(value_c + ALMOST_C):.0f} degC"


def _first_acting(derating: "Derating") -> str:
    """What ends full drive first, in brackets."""
    first = next((acting for acting in derating.acting if acting), "")
    return f" ({limited(first)})" if first else ""


def _met_at(varied: str, value: float) -> str:
    if varied == "ambient":
        return f"full drive in {number(value, 0)} degC"
    return f"request {percent(value)}"
