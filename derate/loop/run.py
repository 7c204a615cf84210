"""One lamp, one profile, run to the end: trace, figures of merit and what happened when."""

import hashlib
import inspect
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import derate
from derate.control.command import ONE_Q15
from derate.control.policy import class_of
from derate.errors import SurroundingsError
from derate.firmware.board import BoardBody, Talk
from derate.lamp.controller import Custom
from derate.lamp.doubts import doubts
from derate.lamp.lamp import Lamp
from derate.lamp.limit import limited_places
from derate.lamp.profile import Profile
from derate.lamp.read import profile_of
from derate.loop import hunting, merit
from derate.loop.body import Body, body_for
from derate.loop.cutout import open_rows
from derate.loop.happenings import Happening, happenings
from derate.loop.timeline import RUNAWAY_C, Recording, Stop, Timeline, going_on
from derate.loop.trace import Array, Trace
from derate.plant.surface.doubts import doubts_of_surfaces
from derate.sensing.chain import Chain, chains_of


@dataclass(frozen=True)
class Result:
    """A finished run; ``talk``: with a real board, how the line to it did."""

    lamp: Lamp
    profile: Profile
    profile_name: str
    trace: Trace
    merit: merit.Merit
    happenings: tuple[Happening, ...]
    provenance: dict[str, str | int | None]
    talk: Talk | None = None


def run(
    lamp: Lamp,
    profile: str | Path | Profile | None = None,
    *,
    profile_name: str | None = None,
    body: Body | None = None,
    seed: int = 0,
    unit: int | None = None,
    tell: Callable[[str], None] = lambda message: None,
    stop: Stop = going_on,
) -> Result:
    """Run a lamp through a mission profile.

    Parameters
    ----------
    lamp: the lamp, from ``derate.lamp.load``.
    profile: a profile of the lamp file by its name (its first by default), the path of a profile
        file, or a Profile, whose name in reports then is ``profile_name``.
    body: a controller to use instead of the one the lamp file names.
    seed, unit: choose the random numbers (noise, jitter); same numbers, same result. The unit by
        default is the one that the lamp file describes, else 0.
    tell: called with a sentence when something takes long.
    stop: asked at every control period; KeyboardInterrupt ends the run when it returns true.

    Raises InputError for an impossible lamp, SurroundingsError without a C compiler or the board.
    A board that goes while it runs cuts the run short, as ``merit.cut_short`` says.
    """
    if not isinstance(profile, Profile):
        profile_name, profile = profile_of(lamp, profile)
    unit = unit if unit is not None else lamp.title.unit or 0
    chains = chains_of(lamp)
    body = body or body_for(lamp, chains)
    timeline = Timeline(lamp, profile, body, chains, seed=seed, unit=unit, stop=stop)
    try:
        recording = timeline.run()
    finally:
        if isinstance(body, BoardBody):
            body.close()
    trace = trace_of(lamp, recording)
    found, unexamined = None, ""
    if not recording.ran_away and recording.cut_short is None:
        try:
            found = hunting.examine(lamp, profile, trace, recording, tell=tell, stop=stop)
        except SurroundingsError as error:  # a run with a board is not lost for want of a compiler
            if not isinstance(body, BoardBody):
                raise
            unexamined = f"the light swings, and why was not looked for: {error}"
    return Result(
        lamp=lamp,
        profile=profile,
        profile_name=profile_name or "profile",
        trace=trace,
        merit=_merit(lamp, profile, recording, trace, found, unexamined),
        happenings=happenings(lamp, profile, trace, recording.switchings),
        provenance={
            "version": derate.__version__,
            "lamp_file": lamp.source.name if lamp.source else None,
            "lamp_sha256": lamp.sha256,
            "inputs_sha256": _hash_of(lamp, profile),
            "profile": profile_name,
            "body": lamp.controller.body,
            "seed": seed,
            "unit": unit,
        },
        talk=body.talk if isinstance(body, BoardBody) else None,
    )


def _hash_of(lamp: Lamp, profile: Profile) -> str:
    """Hash of all values that went into a run, wherever they were read from."""
    values = [lamp.model_dump(mode="json"), profile.model_dump(mode="json")]
    if isinstance(lamp.controller.policy, Custom):
        values.append({"policy": inspect.getsource(class_of(lamp))})
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()


def trace_of(lamp: Lamp, recording: Recording) -> Trace:
    """The recorded rows as named columns with units.

    ``junction_*`` is the hottest junction of a channel, mean over a PWM period, ``crest_*`` the
    hottest at the crest of its ripple.
    """
    rows, plant = recording.rows, recording.plant
    time_s = rows["time_s"][:, 0].astype(float)
    columns: dict[str, Array] = {"time_s": time_s}

    def add(name: str, values: NDArray[Any]) -> None:
        columns[name] = values.astype(float)
        if name.endswith("_c"):
            np.minimum(columns[name], RUNAWAY_C, out=columns[name])

    several = len(lamp.ambients) > 1
    for i, name in enumerate(lamp.ambients):
        add(f"ambient_{name}_c" if several else "ambient_c", rows["ambient_c"][:, i])
    add("airflow", rows["airflow"][:, 0])
    duty = _until_next(_driven(recording, time_s), time_s)
    light, asked = _until_next(rows["light_lm_s"], time_s), _until_next(rows["asked_lm_s"], time_s)
    for i, name in enumerate(lamp.channels):
        add(f"request_{name}", rows["request"][:, i])
        add(f"duty_{name}", duty[:, i])
        junctions = plant.junctions[name]
        junction_c = rows["node_c"][:, junctions]
        add(f"junction_{name}_c", junction_c.max(axis=1))
        if lamp.driver.dimming == "pwm":
            ripple_k = rows["ripple_k"][:, junctions - plant.first_junction]
            add(f"crest_{name}_c", (junction_c + ripple_k).max(axis=1))
        add(f"light_{name}_lm", light[:, i])
    for i, name in enumerate(lamp.sensors):
        codes = rows["code"][:, i]
        add(f"code_{name}", codes)
        add(f"reading_{name}_c", _readings_c(recording.chains[i], codes))
        add(f"thermistor_{name}_c", rows["node_c"][:, plant.sensor_nodes[i]])
    shown: dict[str, tuple[str, ...]] = {name: (name,) for name in lamp.named_nodes}
    shown |= {place.name: place.nodes for place in limited_places(lamp)}
    for name, nodes in shown.items():
        places_c = rows["node_c"][:, [plant.node_index(node) for node in nodes]]
        add(f"node_{name}_c", places_c.max(axis=1))
    add("limit", rows["limit_q15"][:, 0] / ONE_Q15)
    add("status", rows["status"][:, 0])
    for name in lamp.cutouts:
        add(f"cutout_{name}", open_rows(recording.switchings, name, time_s))
    add("light_lm", light.sum(axis=1))
    add("asked_lm", asked.sum(axis=1))
    return Trace(columns)


def _driven(recording: Recording, time_s: Array) -> Array:
    """Running integral of every channel's duty [s] at the rows."""
    dt_s = recording.intervals["dt_s"][:, 0]
    end_s = np.concatenate(([0.0], np.cumsum(dt_s)))
    duties = recording.intervals["duties"] * dt_s[:, None]
    return np.array(
        [np.interp(time_s, end_s, np.concatenate(([0.0], np.cumsum(duty)))) for duty in duties.T]
    ).T


def _readings_c(chain: Chain, codes: NDArray[Any]) -> Array:
    """What the firmware reads from each code [degC], NaN in a fault window."""
    distinct, where = np.unique(codes, return_inverse=True)
    return np.array([chain.reading_c(int(code)) for code in distinct])[where]


def _until_next(cumulative: NDArray[Any], time_s: Array) -> Array:
    """Mean of a running integral from each row to the next; the last row repeats the one before."""
    if len(time_s) < 2:
        return np.zeros(cumulative.shape)
    passed_s = np.diff(time_s)[:, None]
    grown = np.diff(cumulative.astype(float), axis=0)
    mean = np.divide(grown, passed_s, out=np.zeros_like(grown), where=passed_s > 0)
    return np.concatenate((mean, mean[-1:]))


def _merit(
    lamp: Lamp,
    profile: Profile,
    recording: Recording,
    trace: Trace,
    found: merit.Hunting | None,
    unexamined: str,
) -> merit.Merit:
    tally = recording.plant.tally
    channels = merit.channel_merits(lamp, recording)
    nodes = merit.node_merits(lamp, recording)
    events, throttled_s = merit.throttling(trace)
    step = merit.largest_step(trace)
    light, asked = float(tally.light_lm_s.sum()), float(tally.asked_lm_s.sum())
    return merit.Merit(
        channels=channels,
        nodes=nodes,
        sensors=merit.sensor_merits(lamp, profile, trace),
        light_lm_h=light / merit.SECONDS_PER_HOUR,
        share_of_request=merit.share_of(light, asked),
        electrical_wh=float(tally.electrical_j.sum()) / merit.SECONDS_PER_HOUR,
        throttle_events=events,
        throttled_s=throttled_s,
        largest_step=step.fraction,
        largest_step_at_s=step.at_s,
        largest_step_from=step.before,
        largest_step_to=step.after,
        faults=merit.fault_merits(trace),
        hunting=found,
        time_error_k=np.nan if recording.ran_away else time_error_k(recording),
        ran_away_at_s=recording.plant.time_s if recording.ran_away else None,
        held=all(margin_k >= 0 for margin_k in _margins_k(channels, nodes)),
        warnings=(
            *doubts(lamp),
            *doubts_of_surfaces(lamp),
            *(text for chain in recording.chains for text in chain.warnings),
            *([_runaway(recording)] if recording.ran_away else sorted(recording.plant.outside)),
            *([unexamined] if unexamined else []),
        ),
        cut_short=recording.cut_short,
        cutouts=recording.cutouts,
    )


def _runaway(recording: Recording) -> str:
    """The sentence about a run that ended before its time."""
    return (
        f"at {recording.plant.time_s:.4g} s a node passed {RUNAWAY_C:g} degC, hotter than any lamp,"
        " and the run was stopped; `derate point` tells whether heat feeds itself or is merely too"
        " much"
    )


def _margins_k(
    channels: dict[str, merit.ChannelMerit], nodes: dict[str, merit.NodeMerit]
) -> list[float]:
    return [c.margin_k for c in channels.values()] + [n.margin_k for n in nodes.values()]


def time_error_k(recording: Recording) -> float:
    """How far the network's temperatures move when every time step is halved [K], largest.

    The recorded duties are driven again through the plant with halved steps, so that the
    controller's quantisation does not blur the comparison.
    """
    intervals = recording.intervals
    coarse = recording.plant.replay(intervals)
    fine = recording.plant.replay(intervals, halved=True)
    return float(np.max(np.abs(fine - coarse))) if len(coarse) else 0.0
