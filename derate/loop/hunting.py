"""Why a lamp hunts, and the least hysteresis that stops it: found by running it otherwise.

The moment at which the lamp hunts is frozen - ambient, airflow, requests and temperatures stay as
they are - and the closed loop is run again with one suspect removed at a time: the poll period,
the quantum of the ADC, the lag of thermistor and filter, the coupling of the LED current into the
reading, the noise. The suspect without which the swing falls most is the cause.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress

import numpy as np

from derate.control import command
from derate.control.command import ONE_Q15
from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.loop.body import body_for, simulated
from derate.loop.cycle import SMALLEST_SWING, Cycle, find_cycle, turning_points
from derate.loop.inputs import HALF_NANOSECOND_S
from derate.loop.merit import Hunting
from derate.loop.timeline import Recording, Stop, Timeline, going_on
from derate.loop.trace import Array, Trace
from derate.sensing.chain import chains_of

FASTER_SHIFT = 3
"""The poll is made 2^3 times as fast to see whether it is to blame."""
LARGEST_FILTER_SHIFT = 8
FINEST_BITS = 16
"""Resolution of the ADC that stands for one without quantum; its errors in volt stay."""
SETTLED = 10.0
"""Time constants of the network after which a moment has come to rest, or never will: over the
later half of that time what is left of a settling light is below 1 %."""
LONGEST_S = 14400.0
WIDEST_K = 40.0
HYSTERESIS_STEP_K = 0.1
CLEARED = 0.5
"""A suspect is convicted when the swing without it is less than this share of the swing."""

EXPLANATIONS = {
    "poll": "the controller looks too seldom; looking more often, {effect}",
    "quantum": "one ADC code is a coarse step of temperature here; with 16 bits {effect}",
    "lag": "thermistor and filter answer late; without their lag {effect}",
    "current coupling": "the LED current itself moves the reading; without that {effect}",
    "noise": "noise of the ADC goes straight to the light; without it {effect}",
    "sensor fault": (
        "a fault is seen, clears in the safe light it leads to, and is seen again; "
        "let it latch or clear later, and mend what sets it off"
    ),
    "cut-off": (
        "the cut-off darkens the lamp until it has cooled and full light comes back; "
        "let a policy act below the cut-off, or release slowly"
    ),
    "cut-out": (
        "the independent cut-out opens, closes once it has cooled, and is heated again; mend what "
        "heats it, or let the controller act first"
    ),
    "control law": (
        "it would hunt with perfect sensing too, since no level leads to a temperature at which "
        "that level stays; a wider hysteresis, finer steps or a gentler slope cure it"
    ),
}


def examine(
    lamp: Lamp,
    profile: Profile,
    trace: Trace,
    recording: Recording,
    *,
    tell: Callable[[str], None] = lambda message: None,
    stop: Stop = going_on,
) -> Hunting | None:
    """The limit cycle of a run with its cause, or None when the run does not hunt."""
    cycle = find_cycle(trace)
    if cycle is None:
        return None
    cause, explanation, least_k = _protection(trace, cycle), "", None
    if cause:
        explanation = EXPLANATIONS[cause]
    else:
        tell(f"the light hunts with a period of {cycle.period_s:.3g} s; looking for the cause")
        moment = _Moment(lamp, profile, recording, cycle, stop)
        cause, explanation = moment.cause()
        least_k = moment.least_hysteresis_k()
    return Hunting(
        start_s=cycle.start_s,
        end_s=cycle.end_s,
        period_s=cycle.period_s,
        swing_k=cycle.swing_k,
        swing_limit=cycle.swing_limit,
        cause=cause,
        explanation=explanation,
        least_hysteresis_k=least_k,
    )


def _protection(trace: Trace, cycle: Cycle) -> str:
    """The protection that comes and goes as the light swings, empty when none does."""
    status = trace["status"][cycle.first : cycle.last + 1].astype(int)
    for flag, cause in ((command.FAULT, "sensor fault"), (command.CUTOFF, "cut-off")):
        comes = np.count_nonzero(np.diff((status & flag != 0).astype(int)) > 0)
        if comes >= 2:
            return cause
    for name in (name for name in trace.names if name.startswith("cutout_")):
        if np.count_nonzero(np.diff(trace[name][cycle.first : cycle.last + 1]) > 0) >= 2:
            return "cut-out"
    return ""


class _Moment:
    """The frozen moment at which a lamp hunts, and runs from there with changed lamps."""

    def __init__(
        self, lamp: Lamp, profile: Profile, recording: Recording, cycle: Cycle, stop: Stop
    ) -> None:
        self.lamp, self.cycle, self.stop = simulated(lamp), cycle, stop
        rows, row = recording.rows, cycle.last
        self.nodes_c: Array = rows["node_c"][row].astype(float)
        self.codes: list[int] = rows["code"][row].tolist()
        at_s = float(rows["time_s"][row, 0].astype(float)) + HALF_NANOSECOND_S
        settle_s = SETTLED * recording.plant.slowest_s
        self.duration_s = min(LONGEST_S, max(12.0 * cycle.period_s, settle_s))
        self.profile = frozen(lamp, profile, rows["ambient_c"][row].astype(float), at_s)

    def later_limit(self, changes: Mapping[str, object], duration_s: float) -> Array:
        """The limit, up to the request, in the later half of a run with a changed lamp."""
        lamp = self.lamp.with_changes(changes)
        profile = replace_duration(self.profile, duration_s)
        chains = chains_of(lamp)
        timeline = Timeline(
            lamp,
            profile,
            body_for(lamp, chains),
            chains,
            start_nodes_c=self.nodes_c,
            start_codes=self.codes,
            stop=self.stop,
        )
        rows = timeline.run().rows
        asked = float(np.max(rows["request"][-1].astype(float)))
        limit = np.minimum(rows["limit_q15"][:, 0] / ONE_Q15, asked)
        return np.asarray(limit[len(limit) // 2 :], dtype=float)

    def swing(self, changes: Mapping[str, object], duration_s: float) -> float:
        """Swing of the limit that remains with a changed lamp, 0 when it no longer cycles."""
        limit = self.later_limit(changes, duration_s)
        turns = turning_points(limit, SMALLEST_SWING)[1:]
        return float(np.median(np.abs(np.diff(limit[turns])))) if len(turns) > 2 else 0.0

    def cause(self) -> tuple[str, str]:
        """The suspect without which the swing falls most, and the reason in words."""
        duration_s = min(self.duration_s, 12.0 * self.cycle.period_s)
        before = max(self.cycle.swing_limit, SMALLEST_SWING)
        without = {}
        for name, changes in suspects(self.lamp).items():
            with suppress(InputError):  # a lamp that cannot be had is no suspect
                without[name] = self.swing(changes, duration_s)
        guilty = sorted(
            (name for name in without if without[name] <= CLEARED * before),
            key=lambda name: without[name],
        )
        if not guilty:
            return "control law", EXPLANATIONS["control law"]
        name, *others = guilty
        effect = (
            f"the swing of the light falls from {before:.0%} to {without[name]:.0%}"
            if without[name]
            else "it stops"
        )
        also = f" (and so it does without: {', '.join(others)})" if others else ""
        return name, EXPLANATIONS[name].format(effect=effect) + also

    def least_hysteresis_k(self) -> float | None:
        """The smallest hysteresis [K], to 0.1 K, with which this moment comes to rest for good."""
        present_k = getattr(self.lamp.controller.policy, "hysteresis_k", None)
        if present_k is None:
            return None
        high_k = next((k for k in (WIDEST_K, 20.0, 10.0, 5.0) if self._rests(k)), None)
        if high_k is None:
            return None
        low_k = float(present_k)
        while high_k - low_k > HYSTERESIS_STEP_K:
            middle_k = (low_k + high_k) / 2
            low_k, high_k = (low_k, middle_k) if self._rests(middle_k) else (middle_k, high_k)
        return float(np.ceil(high_k / HYSTERESIS_STEP_K - 1e-6) * HYSTERESIS_STEP_K)

    def _rests(self, hysteresis_k: float) -> bool:
        try:
            changes = {"controller.policy.hysteresis": f"{hysteresis_k!r} K"}
            return bool(np.ptp(self.later_limit(changes, self.duration_s)) < SMALLEST_SWING)
        except InputError:
            return False


def suspects(lamp: Lamp) -> dict[str, dict[str, object]]:
    """For each possible cause of hunting the changes to the lamp file that remove it."""
    found: dict[str, dict[str, object]] = {
        "current coupling": {},
        "noise": {},
        "quantum": {},
        "poll": _faster(lamp),
        "lag": {"controller.filter_shift": 0},
    }
    for name, sensor in lamp.sensors.items():
        key = f"sensors.{name}"
        finer = 1 << (FINEST_BITS - sensor.adc.bits)
        found["quantum"][f"{key}.adc.bits"] = FINEST_BITS
        for error in ("offset", "inl", "noise"):
            found["quantum"][f"{key}.adc.{error}"] = (
                f"{finer * getattr(sensor.adc, f'{error}_lsb')!r} LSB"
            )
        found["lag"][f"{key}.capacitance"] = f"{sensor.capacitance_j_per_k / 1000!r} J/K"
        if sensor.adc.noise_lsb:
            found["noise"][f"{key}.adc.noise"] = "0 LSB"
        if sensor.disturbance.ground_v_per_a or sensor.disturbance.supply_v_per_a:
            found["current coupling"][f"{key}.disturbance.ground"] = "0 V/A"
            found["current coupling"][f"{key}.disturbance.supply"] = "0 V/A"
    return {name: changes for name, changes in found.items() if changes}


def _faster(lamp: Lamp) -> dict[str, object]:
    """Changes that make ADC and controller look more often, the filter's time kept."""
    timing, shift = lamp.timing, lamp.controller.filter_shift
    shift_more = min(FASTER_SHIFT, LARGEST_FILTER_SHIFT - shift) if shift else FASTER_SHIFT
    if shift_more == 0:
        return {}
    every = 1 << shift_more
    return {
        "timing.control_period": f"{round(timing.control_period_s / every, 9)!r} s",
        "timing.adc_period": f"{round(timing.adc_period_s / every, 9)!r} s",
        "timing.control_jitter": "0 s",
        "timing.adc_jitter": "0 s",
        "timing.control_phase": "0 s",
        "timing.adc_phase": "0 s",
        "controller.filter_shift": shift + shift_more if shift else 0,
    }


def frozen(lamp: Lamp, profile: Profile, ambient_c: Array, at_s: float) -> Profile:
    """The profile that holds for ever what holds at ``at_s``, its faults included."""
    events = tuple(
        event.model_copy(update={"at_s": 0.0, "until_s": None})
        for event in profile.events
        if event.at_s <= at_s and (event.until_s is None or at_s < event.until_s)
    )
    return Profile.model_validate(
        {
            "duration": LONGEST_S,
            "ambient": {name: float(ambient_c[i]) for i, name in enumerate(lamp.ambients)},
            "airflow": profile.airflow.value(at_s),
            "request": {name: course.value(at_s) for name, course in profile.request.items()},
            "events": events,
        }
    )


def replace_duration(profile: Profile, duration_s: float) -> Profile:
    """The same profile with another duration [s]."""
    return profile.model_copy(update={"duration_s": duration_s})
