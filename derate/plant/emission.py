"""What the emitters turn electrical power into: heat per group, light per channel.

With PWM the current is the full one for the share ``duty`` of the time and the mean over the PWM
period is taken: heat and light are duty times those at full current, at the mean temperature of the
junction. With current dimming the current is duty times the full one. Light never exceeds the
electrical power.

With bypass switches the channels are one string that always carries the full current I; a channel
is dark while its switch is closed. A switch of resistance R that loses E each time it has closed
and opened again heats its node by

    (1 - duty) I^2 R + E frequency        the latter while 0 < duty < 1

which the driver has to supply as well. With every duty at zero the string carries no current.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.channel import Branch, Group
from derate.plant.curve import value
from derate.plant.emitter import (
    LUMINOUS,
    LUMINOUS_RATIO,
    RADIANT,
    RADIANT_RATIO,
    VOLTAGE,
    stacked,
    voltage_v,
)
from derate.plant.kernel import kernel
from derate.plant.sharing import share

Array = NDArray[np.float64]

FIRST, END, KIND = range(3)
"""Columns of ``channel_of`` (branches of the channel, its emitter) and ``branch_of`` (groups)."""
FULL_A, PARALLEL, SERIES = range(3)
"""Columns of ``channel``: current at full duty [A], branches in parallel, emitters in series."""
SLOPE, REFERENCE_C = range(2)
"""Columns of ``emitter``: slope of the forward voltage [V/K], reference temperature [degC]."""
IN_SERIES, COUNT = range(2)
"""Columns of ``group``: emitters in one branch and in all."""
BRANCHES, OFFSET_V = range(2)
"""Columns of ``branch``: branches of this kind, offset of the forward voltage [V]."""
CURRENT, VOLTS, WATTS, LUMENS = range(4)
"""Last axis of ``Lit.branch``: of one emitter at the reference temperature."""
FRACTION, COMMON_V = range(2)
"""Last axis of ``Lit.channel``: fraction of the full current, common voltage per emitter [V]."""
DRIVEN, ASKED = range(2)
"""First axis of ``Lit``: at the duty, and at the requested duty (current dimming only)."""
HEAT, POWER, LIGHT, WISH = range(4)
"""Rows of ``Lit.glow``: heat and electrical power [W], light and the light asked for [lm]."""
LIGHT_LM, ASKED_LM, ELECTRICAL_W = range(3)
"""Rows of an output: light, light asked for, power drawn from the supply, per channel."""


class Emission(NamedTuple):
    """Channels, kinds of branches and groups, each a range of the next; constants of the run."""

    curves: Array
    emitter: Array
    channel_of: NDArray[np.int64]
    channel: Array
    branch_of: NDArray[np.int64]
    branch: Array
    group: Array
    pwm: bool
    supply_per_load: float
    loss_input: int
    bypass_ohm: float
    switching_w: float
    bypass_input: int


class Lit(NamedTuple):
    """Currents found last, kept because they rarely change: ``branch`` (2, B, 4), ``channel``.

    ``glow`` (4, G): what each group gives while on, at the temperatures met last.
    """

    branch: Array
    channel: Array
    glow: Array


def emission_of(lamp: Lamp, branches: list[Branch], groups: list[Group]) -> Emission:
    """The constants of a lamp's emission."""
    emitters, channels = list(lamp.emitters), list(lamp.channels.values())
    channel_of = [
        (*_span([b.channel for b in branches], i), emitters.index(channel.emitter))
        for i, channel in enumerate(channels)
    ]
    branch_of = [_span([g.branch for g in groups], i) for i in range(len(branches))]
    driver, bypass = lamp.driver, lamp.driver.bypass
    inputs = len(groups) + len(lamp.sensors)
    loss_input = inputs if driver.heat_node else -1
    bypass_input = inputs + bool(driver.heat_node) if bypass and bypass.node else -1
    slopes = [
        (kind.forward_voltage_slope_v_per_k, kind.reference_junction_c)
        for kind in lamp.emitters.values()
    ]
    return Emission(
        curves=stacked(list(lamp.emitters.values())),
        emitter=_table(slopes, 2),
        channel_of=np.array(channel_of, dtype=np.int64).reshape(-1, 3),
        channel=_table([(c.current_a, c.parallel, c.series) for c in channels], 3),
        branch_of=np.array(branch_of, dtype=np.int64).reshape(-1, 2),
        branch=_table([(b.count, b.offset_v) for b in branches], 2),
        group=_table([(g.in_series, g.count) for g in groups], 2),
        pwm=driver.dimming == "pwm",
        supply_per_load=1.0 / driver.efficiency,
        loss_input=loss_input,
        bypass_ohm=bypass.resistance_ohm if bypass else 0.0,
        switching_w=bypass.switching_j * driver.frequency_hz if bypass else 0.0,
        bypass_input=bypass_input,
    )


def dark(emission: Emission) -> Lit:
    """Nothing known yet about the currents."""
    return Lit(
        np.zeros((2, len(emission.branch), 4)),
        np.full((2, len(emission.channel), 2), np.nan),
        np.full((4, max(1, len(emission.group))), np.nan),
    )


def _span(owners: list[int], owner: int) -> tuple[int, int]:
    """First place and end of an owner's things in a list sorted by owner."""
    first = owners.index(owner)
    return first, first + owners.count(owner)


def _table(rows: Sequence[tuple[float, ...]], columns: int) -> Array:
    return np.array(rows, dtype=float).reshape(-1, columns)


@kernel
def emit(
    emission: Emission,
    lit: Lit,
    junction_c: Array,
    duties: Array,
    requests: Array,
    heat_w: Array,
    output: Array,
) -> None:
    """Fill ``heat_w`` (groups first, losses where they belong) and ``output`` (3, channels).

    ``junction_c`` (G) [degC]; ``duties``, ``requests``: 0..1 per channel.
    """
    shine(emission, lit, junction_c, duties, requests)
    weigh(emission, lit, duties, requests, heat_w, output)


@kernel
def shine(emission: Emission, lit: Lit, junction_c: Array, duties: Array, requests: Array) -> None:
    """Fill ``lit.glow``: what every group gives while on; under PWM whatever the duties are."""
    glow = lit.glow
    for c in range(emission.channel.shape[0]):
        kind = emission.channel_of[c, KIND]
        asked_lane = DRIVEN
        if emission.pwm:
            find_currents(emission, lit, DRIVEN, c, 1.0, junction_c)
        else:
            asked_lane = ASKED
            find_currents(emission, lit, DRIVEN, c, duties[c], junction_c)
            find_currents(emission, lit, ASKED, c, requests[c], junction_c)
        slope, reference_c = emission.emitter[kind, SLOPE], emission.emitter[kind, REFERENCE_C]
        for b in range(emission.channel_of[c, FIRST], emission.channel_of[c, END]):
            now = lit.branch[DRIVEN, b]
            for g in range(emission.branch_of[b, FIRST], emission.branch_of[b, END]):
                at_c, count = junction_c[g], emission.group[g, COUNT]
                volts = now[VOLTS] + slope * (at_c - reference_c)
                electrical = max(0.0, now[CURRENT] * volts)
                ratio = max(0.0, value(emission.curves[kind, RADIANT_RATIO], at_c))
                glow[HEAT, g] = count * max(0.0, electrical - now[WATTS] * ratio)
                glow[POWER, g] = count * electrical
                ratio = count * max(0.0, value(emission.curves[kind, LUMINOUS_RATIO], at_c))
                glow[LIGHT, g] = ratio * now[LUMENS]
                glow[WISH, g] = ratio * lit.branch[asked_lane, b, LUMENS]


@kernel
def weigh(
    emission: Emission, lit: Lit, duties: Array, requests: Array, heat_w: Array, output: Array
) -> None:
    """Heat and output from what the groups give while on, and the losses."""
    lost_w, switches_w, driven = 0.0, 0.0, False
    for c in range(len(duties)):
        driven = driven or duties[c] > 0.0
    for c in range(emission.channel.shape[0]):
        on, asked = (duties[c], requests[c]) if emission.pwm else (1.0, 1.0)
        light, wish, power = 0.0, 0.0, 0.0
        for b in range(emission.channel_of[c, FIRST], emission.channel_of[c, END]):
            for g in range(emission.branch_of[b, FIRST], emission.branch_of[b, END]):
                heat_w[g] = on * lit.glow[HEAT, g]
                power += on * lit.glow[POWER, g]
                light += on * lit.glow[LIGHT, g]
                wish += asked * lit.glow[WISH, g]
        if driven:
            bypassed = bypass_w(emission, c, duties[c])
            switches_w += bypassed
            power += bypassed
        output[LIGHT_LM, c], output[ASKED_LM, c] = light, wish
        output[ELECTRICAL_W, c] = power * emission.supply_per_load
        lost_w += power * (emission.supply_per_load - 1.0)
    if emission.loss_input >= 0:
        heat_w[emission.loss_input] = lost_w
    if emission.bypass_input >= 0:
        heat_w[emission.bypass_input] = switches_w


@kernel
def bypass_w(emission: Emission, c: int, duty: float) -> float:
    """Heat of the bypass switch of channel ``c`` [W], mean over a PWM period."""
    current_a = emission.channel[c, FULL_A]
    conduction_w = (1.0 - duty) * current_a * current_a * emission.bypass_ohm
    return conduction_w + (emission.switching_w if 0.0 < duty < 1.0 else 0.0)


@kernel
def find_currents(
    emission: Emission, lit: Lit, lane: int, c: int, fraction: float, junction_c: Array
) -> None:
    """Bring ``lit`` up to date for channel ``c`` at ``fraction`` of its full current.

    With one kind of branch the current is known beforehand and only a new fraction needs work.
    """
    first, end = emission.channel_of[c, FIRST], emission.channel_of[c, END]
    total_a = fraction * emission.channel[c, FULL_A]
    if end - first > 1 and total_a > 0.0:
        _share_out(emission, lit, lane, c, total_a, junction_c)
    elif fraction != lit.channel[lane, c, FRACTION]:
        for b in range(first, end):
            lit.branch[lane, b, CURRENT] = total_a / emission.channel[c, PARALLEL]
    else:
        return
    lit.channel[lane, c, FRACTION] = fraction
    curves = emission.curves[emission.channel_of[c, KIND]]
    for b in range(first, end):
        now = lit.branch[lane, b]
        if now[CURRENT] > 0.0:
            now[VOLTS] = voltage_v(curves[VOLTAGE], np.log(now[CURRENT]))
            now[VOLTS] += emission.branch[b, OFFSET_V]
            now[WATTS] = max(0.0, value(curves[RADIANT], now[CURRENT]))
            now[LUMENS] = max(0.0, value(curves[LUMINOUS], now[CURRENT]))
        else:
            now[VOLTS] = now[WATTS] = now[LUMENS] = 0.0


@kernel
def _share_out(
    emission: Emission, lit: Lit, lane: int, c: int, total_a: float, junction_c: Array
) -> None:
    """Currents of a channel whose branches differ, at their present temperatures."""
    first, end = emission.channel_of[c, FIRST], emission.channel_of[c, END]
    kind = emission.channel_of[c, KIND]
    shift_v = lit.branch[lane, first:end, VOLTS]
    for b in range(first, end):
        rise = 0.0
        for g in range(emission.branch_of[b, FIRST], emission.branch_of[b, END]):
            rise += emission.group[g, IN_SERIES] * (
                junction_c[g] - emission.emitter[kind, REFERENCE_C]
            )
        rise *= emission.emitter[kind, SLOPE] / emission.channel[c, SERIES]
        shift_v[b - first] = emission.branch[b, OFFSET_V] + rise
    lit.channel[lane, c, COMMON_V] = share(
        emission.curves[kind, VOLTAGE],
        total_a,
        emission.branch[first:end, BRANCHES],
        shift_v,
        lit.branch[lane, first:end, CURRENT],
        lit.channel[lane, c, COMMON_V],
    )
