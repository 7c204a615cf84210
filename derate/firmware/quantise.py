"""A lamp's controller settings as the integers that the C takes.

Temperatures in 0.01 degC (int16), shares as Q15 (32768 = 1.0, rounded down), rates and gains as
Q31 (2^31 = 1.0), durations in control periods (uint32, rounded up). A value the C cannot hold is
refused with the key that holds it, never bent silently: rates, gains and differences may be off by
1 % at most, and no share above zero becomes zero.
"""

import itertools
import math
from collections.abc import Sequence
from typing import NamedTuple

from derate.control.command import ONE_Q15, OPEN, SHORT
from derate.control.periods import periods_in
from derate.control.shares import shares_of
from derate.errors import InputError
from derate.lamp import controller
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain

ONE_Q31 = 1 << 31
CENTI = 100
INT16_MAX, UINT16_MAX, UINT32_MAX = 0x7FFF, 0xFFFF, 0xFFFFFFFF
COUNT_MAX = 255
COARSEST = 0.01
"""Largest relative error [-] to which a rate, gain or difference may be rounded."""
SHARE_ROUNDING = 1e-6
"""Share of a Q15 unit forgiven when rounding down, for floating-point rounding."""


class Field(NamedTuple):
    """One field of a C struct: its name, its value, and what the value says in the lamp's units."""

    name: str
    value: int
    meaning: str


class Table(NamedTuple):
    """The reading table of one sensor: knots, fault window, and which side is which fault."""

    code: tuple[int, ...]
    reading_centi_c: tuple[int, ...]
    window: tuple[Field, ...]


class Quantiser:
    """Turns quantities into integers; raises InputError, naming file and key, where it cannot."""

    def __init__(self, lamp: Lamp) -> None:
        self.file = str(lamp.source) if lamp.source else lamp.name
        self.period_s = lamp.timing.control_period_s

    def refuse(self, key: str, found: str, due: str) -> InputError:
        """The error for a value that the C cannot hold."""
        return InputError(f"{self.file}: controller.{key}: found {found}, due {due}")

    def centi_c(self, name: str, temperature_c: float, key: str) -> Field:
        """A temperature [degC]."""
        value = round(temperature_c * CENTI)
        if abs(value) > INT16_MAX:
            raise self.refuse(key, f"{temperature_c:g} degC", "-327.67 degC to 327.67 degC")
        return Field(name, value, f"{temperature_c:g} degC")

    def centi_k(self, name: str, difference_k: float | None, key: str) -> Field:
        """A difference of temperatures [K]; None, for no check, is 0."""
        if difference_k is None:
            return Field(name, 0, "no check")
        value = round(difference_k * CENTI)
        if value > UINT16_MAX:
            raise self.refuse(key, f"{difference_k:g} K", "at most 655.35 K")
        if abs(value - difference_k * CENTI) > COARSEST * difference_k * CENTI:
            due = f"whole steps of 0.01 K, or at least {0.5 / COARSEST / CENTI:g} K"
            raise self.refuse(key, f"{difference_k:g} K", due)
        return Field(name, value, f"{difference_k:g} K")

    def share(self, name: str, share: float, key: str) -> Field:
        """A share (0..1), which the lamp file has checked."""
        value = int(share * ONE_Q15 + SHARE_ROUNDING)
        if value == 0 and share > 0.0:
            raise self.refuse(key, f"{share:g}", f"0, or at least {1.0 / ONE_Q15:.2g}")
        return Field(name, value, f"{share:g}")

    def periods(self, name: str, duration_s: float, key: str, *, least: int = 0) -> Field:
        """A duration [s] in control periods."""
        value = max(least, periods_in(duration_s, self.period_s))
        if value > UINT32_MAX:
            found = f"{duration_s:g} s, which is {value} control periods"
            raise self.refuse(key, found, f"at most {UINT32_MAX} of them")
        return Field(name, value, f"{duration_s:g} s")

    def rate(self, name: str, rate_per_s: float | None, key: str) -> Field:
        """A rate [1/s] as Q31 a step; None, for at once, is 0."""
        if rate_per_s is None:
            return Field(name, 0, "at once")
        exact = min(1.0, rate_per_s * self.period_s) * ONE_Q31
        if abs(round(exact) - exact) > COARSEST * exact:
            raise self.refuse(key, f"{rate_per_s:g} 1/s", f"at least {self.finest('1/s')}")
        return Field(name, round(exact), f"{rate_per_s:g} 1/s")

    def finest(self, unit: str, per: float = 1.0) -> str:
        """In words, the least rate that is held to the accuracy promised."""
        return f"{0.5 / COARSEST / ONE_Q31 / self.period_s * per:.2g} {unit}"

    def gain(self, name: str, gain_per_k: float, key: str, unit: str) -> tuple[Field, Field]:
        """A gain [1/K, or 1/K a step] as a 16-bit mantissa and a shift, per 0.01 K."""
        exact = gain_per_k / CENTI * ONE_Q31
        shift = max(0, math.ceil(math.log2(exact / UINT16_MAX))) if exact > 0.0 else 0
        mantissa = round(exact / 2.0**shift)
        if shift > 31:
            raise self.refuse(key, "a gain beyond all use", "less than 1e6 per kelvin and step")
        if abs(mantissa * 2.0**shift - exact) > COARSEST * exact:
            least = self.finest(unit, per=CENTI * (self.period_s if unit == "1/K" else 1.0))
            raise self.refuse(key, f"{gain_per_k:g} 1/K in a step", f"at least {least}, or 0")
        return (
            Field(f"{name}.mantissa", mantissa, f"{gain_per_k:g} 1/K in a step"),
            Field(f"{name}.shift", shift, "mantissa * 2^shift / 2^31 for each 0.01 K"),
        )


def controller_fields(lamp: Lamp) -> tuple[Field, ...]:
    """The fields of struct derate_settings that are plain numbers."""
    chosen, to = lamp.controller, Quantiser(lamp)
    if len(lamp.channels) > COUNT_MAX:
        found = f"{len(lamp.channels)} channels"
        raise InputError(f"{to.file}: channels: found {found}, due at most {COUNT_MAX}")
    return (
        Field("channels", len(lamp.channels), ", ".join(lamp.channels)),
        Field("sensors", len(lamp.sensors), ", ".join(lamp.sensors)),
        Field("filter_shift", chosen.filter_shift, f"about {2**chosen.filter_shift} steps"),
        Field("latch", int(chosen.latch), "until restart" if chosen.latch else "faults clear"),
        to.centi_c("cutoff_centi_c", chosen.cutoff_c, "cutoff"),
        to.share("safe_q15", chosen.safe_duty, "safe_duty"),
        to.rate("attack_q31", chosen.attack_per_s, "attack"),
        to.rate("release_q31", chosen.release_per_s, "release"),
        to.periods("hold_steps", chosen.hold_s, "hold"),
        to.periods("clear_steps", chosen.clear_after_s, "clear_after"),
        to.centi_k("max_jump_centi_k", chosen.max_jump_k, "max_jump"),
        to.centi_k("disagreement_centi_k", chosen.disagreement_k, "disagreement"),
        *_stuck_fields(chosen.stuck, to),
    )


def _stuck_fields(chosen: controller.Stuck | None, to: Quantiser) -> tuple[Field, ...]:
    if chosen is None or chosen.drive == 0.0:
        return (Field("stuck_drive_q15", 0, "no check"),)
    return (
        to.share("stuck_drive_q15", max(chosen.drive, 1.0 / ONE_Q15), "stuck.drive"),
        to.centi_k("stuck_rise_centi_k", chosen.rise_k, "stuck.rise"),
        to.centi_c("stuck_below_centi_c", chosen.below_c, "stuck.below"),
        to.periods("stuck_off_steps", chosen.off_s, "stuck.off", least=1),
        to.periods("stuck_within_steps", chosen.within_s, "stuck.within", least=1),
    )


def shares_q15(lamp: Lamp) -> tuple[int, ...]:
    """The array share_q15 of struct derate_settings; empty where every share is the limit."""
    shares = shares_of(lamp)
    return () if shares is None else tuple(itertools.chain.from_iterable(shares.knots_q15))


def policy_fields(lamp: Lamp) -> tuple[Field, ...]:
    """The fields of struct derate_policy that are plain numbers."""
    chosen, to = lamp.controller.policy, Quantiser(lamp)
    match chosen:
        case controller.Foldback():
            start = to.centi_c("start_centi_c", chosen.start_c, "policy.start")
            end = to.centi_c("end_centi_c", chosen.end_c, "policy.end")
            if end.value <= start.value:
                due = f"at least 0.01 K above start, {chosen.start_c:g} degC"
                raise to.refuse("policy.end", f"{chosen.end_c:g} degC", due)
            hysteresis = to.centi_k("hysteresis_centi_k", chosen.hysteresis_k, "policy.hysteresis")
            return start, end, to.share("floor_q15", chosen.floor, "policy.floor"), hysteresis
        case controller.Steps():
            levels = len(chosen.levels)
            if levels > COUNT_MAX:
                raise to.refuse("policy.levels", f"{levels} levels", f"at most {COUNT_MAX}")
            return (
                Field("levels", levels, "steps"),
                to.centi_k("hysteresis_centi_k", chosen.hysteresis_k, "policy.hysteresis"),
            )
        case controller.Pi():
            per_step = chosen.integral_per_k_s * to.period_s
            return (
                to.centi_c("setpoint_centi_c", chosen.setpoint_c, "policy.setpoint"),
                to.share("floor_q15", chosen.floor, "policy.floor"),
                *to.gain("gain", chosen.gain_per_k, "policy.gain", "1/K"),
                *to.gain("integral_gain", per_step, "policy.integral", "1/(K*s)"),
            )
        case controller.OpenLoop():
            return (Field("unused", 0, "no settings"),)
    raise to.refuse("policy.kind", f'"{chosen.kind}"', 'a built-in policy, or body = "python"')


def levels_of(lamp: Lamp) -> tuple[tuple[Field, Field], ...]:
    """The levels of a "steps" policy: threshold and limit; none for another policy."""
    chosen, to = lamp.controller.policy, Quantiser(lamp)
    if not isinstance(chosen, controller.Steps):
        return ()
    levels = tuple(
        (
            to.centi_c("at_centi_c", level.at_c, f"policy.levels[entry {index}].at"),
            to.share("limit_q15", level.limit, f"policy.levels[entry {index}].limit"),
        )
        for index, level in enumerate(chosen.levels, start=1)
    )
    for index, ((before, _), (after, _)) in enumerate(itertools.pairwise(levels), start=2):
        if after.value <= before.value:
            due = f"at least 0.01 K above the level before, {before.meaning}"
            raise to.refuse(f"policy.levels[entry {index}].at", after.meaning, due)
    return levels


def tables_of(lamp: Lamp, chains: Sequence[Chain]) -> tuple[Table, ...]:
    """The reading tables of the sensors, which must reach the cut-off."""
    to = Quantiser(lamp)
    tables = []
    for chain in chains:
        lookup = chain.lookup
        code = tuple(int(knot) for knot in lookup.knots)
        reading = tuple(int(value) for value in lookup.centi_c)
        if len(code) > COUNT_MAX:
            found = f"a reading table of {len(code)} knots"
            due = f"at most {COUNT_MAX}"
            raise InputError(f"{to.file}: sensors.{chain.name}: found {found}, due {due}")
        if max(reading) < round(lamp.controller.cutoff_c * CENTI):
            hottest = f"{max(reading) / CENTI:g} degC"
            due = f"at most the hottest reading of sensor {chain.name}, {hottest}"
            raise to.refuse("cutoff", f"{lamp.controller.cutoff_c:g} degC", due)
        tables.append(Table(code, reading, _window(chain)))
    return tuple(tables)


def _window(chain: Chain) -> tuple[Field, ...]:
    window = chain.lookup.window
    low, high = (SHORT, OPEN) if window.open_is_high else (OPEN, SHORT)
    name = {OPEN: "open", SHORT: "shorted"}
    return (
        Field("low_code", window.low_code, f"from here down the thermistor is {name[low]}"),
        Field("high_code", window.high_code, f"from here up it is {name[high]}"),
        Field("low_flag", low, name[low]),
        Field("high_flag", high, name[high]),
    )
