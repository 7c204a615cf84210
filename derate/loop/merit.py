"""Figures of merit of one run: what got hot, what light came out, how the control behaved."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.control import command
from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places
from derate.lamp.profile import Profile
from derate.loop.cutout import CutoutMerit
from derate.loop.timeline import RUNAWAY_C, Recording
from derate.loop.trace import Trace

SECONDS_PER_HOUR = 3600.0
STEP_WINDOW_S = 1.0
"""A change of light within a second is seen as one step (common practice)."""


@dataclass(frozen=True)
class NodeMerit:
    """A node with a limit: its highest temperature between ticks too, and time spent above."""

    peak_c: float
    peak_at_s: float
    limit_c: float
    margin_k: float
    above_limit_s: float


@dataclass(frozen=True)
class ChannelMerit:
    """A channel: its hottest junction against the limit, the crest of PWM included, and its light.

    ``share_of_request``: light delivered over the light the requested duty would have given at
    the same junction temperatures [-], so that it counts what the control took and nothing else.
    """

    peak_junction_c: float
    peak_at_s: float
    limit_c: float
    margin_k: float
    above_limit_s: float
    light_lm_h: float
    share_of_request: float


@dataclass(frozen=True)
class SensorMerit:
    """Sensing error over the ticks without a sensor fault.

    ``worst_low_k``, ``worst_high_k``, ``rms_k``: reading minus thermistor [K];
    ``behind_junction_k``: hottest junction minus reading, largest [K].
    """

    worst_low_k: float
    worst_high_k: float
    rms_k: float
    behind_junction_k: float


@dataclass(frozen=True)
class FaultMerit:
    """A sensor fault as the controller saw it: how often it began, and for how long in all."""

    times: int
    seconds: float
    first_s: float


@dataclass(frozen=True)
class Hunting:
    """A limit cycle seen in the run, why it is there and what would stop it."""

    start_s: float
    end_s: float
    period_s: float
    swing_k: float
    swing_limit: float
    cause: str
    explanation: str
    least_hysteresis_k: float | None


@dataclass(frozen=True)
class Merit:
    """All figures of one run; ``held`` is the verdict: nothing with a limit passed it.

    ``largest_step``: as a fraction of the light before it, which went from ``largest_step_from``
    to ``largest_step_to`` of the light asked for [-]; ``faults`` by their causes.
    """

    channels: dict[str, ChannelMerit]
    nodes: dict[str, NodeMerit]
    sensors: dict[str, SensorMerit]
    light_lm_h: float
    share_of_request: float
    electrical_wh: float
    throttle_events: int
    throttled_s: float
    largest_step: float
    largest_step_at_s: float
    largest_step_from: float
    largest_step_to: float
    faults: dict[str, FaultMerit]
    hunting: Hunting | None
    time_error_k: float
    ran_away_at_s: float | None
    held: bool
    warnings: tuple[str, ...] = field(default=())
    cut_short: str | None = None
    cutouts: dict[str, CutoutMerit] = field(default_factory=dict)


def channel_merits(lamp: Lamp, recording: Recording) -> dict[str, ChannelMerit]:
    """Figures of every channel; its hottest junction stands for all of them."""
    plant, tally = recording.plant, recording.plant.tally
    merits = {}
    for i, (name, channel) in enumerate(lamp.channels.items()):
        junctions = plant.junctions[name]
        hottest = junctions[np.argmax(tally.peak_c[junctions])]
        peak_c = min(float(tally.peak_c[hottest]), RUNAWAY_C)
        merits[name] = ChannelMerit(
            peak_junction_c=peak_c,
            peak_at_s=float(tally.peak_at_s[hottest]),
            limit_c=channel.junction_limit_c,
            margin_k=channel.junction_limit_c - peak_c,
            above_limit_s=float(np.max(tally.above_s[junctions])),
            light_lm_h=float(tally.light_lm_s[i]) / SECONDS_PER_HOUR,
            share_of_request=share_of(tally.light_lm_s[i], tally.asked_lm_s[i]),
        )
    return merits


def node_merits(lamp: Lamp, recording: Recording) -> dict[str, NodeMerit]:
    """Figures of every place with a limit that is no junction; its hottest node stands for it."""
    plant, tally = recording.plant, recording.plant.tally
    merits = {}
    for place in limited_places(lamp):
        nodes = np.array([plant.node_index(node) for node in place.nodes])
        hottest = nodes[np.argmax(tally.peak_c[nodes])]
        peak_c = min(float(tally.peak_c[hottest]), RUNAWAY_C)
        merits[place.name] = NodeMerit(
            peak_c=peak_c,
            peak_at_s=float(tally.peak_at_s[hottest]),
            limit_c=place.limit_c,
            margin_k=place.limit_c - peak_c,
            above_limit_s=float(np.max(tally.above_s[nodes])),
        )
    return merits


def sensor_merits(lamp: Lamp, profile: Profile, trace: Trace) -> dict[str, SensorMerit]:
    """Reading against thermistor and against the hottest junction, where no fault was present.

    Neither one that the controller saw nor one of the profile that it may not have seen.
    """
    junction_c = np.max([trace[f"junction_{name}_c"] for name in lamp.channels], axis=0)
    merits = {}
    for name in lamp.sensors:
        reading_c = trace[f"reading_{name}_c"]
        healthy = np.isfinite(reading_c) & (trace["status"].astype(int) & command.FAULT == 0)
        for event in profile.events:
            if event.sensor == name:
                until_s = np.inf if event.until_s is None else event.until_s
                healthy &= (trace["time_s"] < event.at_s) | (trace["time_s"] >= until_s)
        if not healthy.any():
            merits[name] = SensorMerit(np.nan, np.nan, np.nan, np.nan)
            continue
        error_k = (reading_c - trace[f"thermistor_{name}_c"])[healthy]
        merits[name] = SensorMerit(
            worst_low_k=float(error_k.min()),
            worst_high_k=float(error_k.max()),
            rms_k=float(np.sqrt(np.mean(error_k**2))),
            behind_junction_k=float(np.max((junction_c - reading_c)[healthy])),
        )
    return merits


def throttling(trace: Trace) -> tuple[int, float]:
    """How many times the control began to hold light back, and for how long in all [s].

    Light is held back while the limit is below the largest request; sensor faults count apart.
    """
    stretches = spells(held_back_rows(trace)[:-1])
    time_s = trace["time_s"]
    return len(stretches), float(sum(time_s[after] - time_s[first] for first, after in stretches))


def held_back_rows(trace: Trace) -> NDArray[np.bool_]:
    """Rows in which the limit lies below the largest request, and not because of a sensor fault."""
    requests = [trace[name] for name in trace.names if name.startswith("request_")]
    status = trace["status"].astype(int)
    return np.asarray(command.held_back(trace["limit"], np.max(requests, axis=0), status))


class Step(NamedTuple):
    """A change of light: as a fraction of the level before, when [s], and from and to what."""

    fraction: float
    at_s: float
    before: float
    after: float


def largest_step(trace: Trace) -> Step:
    """Largest change of light within a second that the control made.

    Measured on light over light asked for, so that the user's own dimming does not count; as a
    fraction of the level before the step. Ticks longer than a second are compared one by one.
    """
    lit = trace["asked_lm"] > 0
    if np.count_nonzero(lit) < 2:
        return Step(0.0, 0.0, 1.0, 1.0)
    time_s = trace["time_s"][lit]
    share = trace["light_lm"][lit] / trace["asked_lm"][lit]
    window_s = STEP_WINDOW_S * (1 + 1e-9)
    rows = np.arange(1, len(share))
    before = np.minimum(np.searchsorted(time_s, time_s[1:] - window_s), rows - 1)
    level = share[before]
    step = np.abs(share[1:] - level) / np.where(level > 0, level, np.inf)
    worst = int(np.argmax(step))
    after = float(share[worst + 1])
    return Step(float(step[worst]), float(time_s[worst + 1]), float(level[worst]), after)


def fault_merits(trace: Trace) -> dict[str, FaultMerit]:
    """The sensor faults that the controller saw, by their causes in words."""
    status = trace["status"].astype(int)
    time_s = trace["time_s"]
    found: dict[str, FaultMerit] = {}
    for first, after in spells(status & command.FAULT != 0):
        seconds = float(time_s[min(after, len(time_s) - 1)] - time_s[first])
        causes = command.fault_name(int(np.bitwise_or.reduce(status[first:after])))
        known = found.get(causes, FaultMerit(0, 0.0, float(time_s[first])))
        found[causes] = FaultMerit(known.times + 1, known.seconds + seconds, known.first_s)
    return found


def spells(holds: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First row of each stretch in which a condition holds, and the row after its last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], holds, [False])).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def share_of(delivered: float, asked: float) -> float:
    """Light delivered over light asked for [-], NaN where none was asked for."""
    return float(delivered / asked) if asked > 0 else float("nan")
