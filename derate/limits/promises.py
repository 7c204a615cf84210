"""Assertions for tests of one's own: each raises PromiseBrokenError with one sentence.

They work with every body that a lamp file may name: policies in Python, C, emulated cores. Where no
profile is given, ``never_exceeds`` searches for one; the others drive the controller on the rig.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from derate.control import command
from derate.control.command import ONE_Q15, Command
from derate.firmware.walks import random_walk
from derate.lamp.duration import duration
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.lamp.read import profile_of
from derate.limits.broken import PromiseBrokenError
from derate.limits.challenge import EFFORT, Wanted, challenge, keys_of_finding
from derate.limits.history import profile_from, profile_keys
from derate.limits.rig import PATIENCE, WIRES, Rig
from derate.limits.telling import history_of, told
from derate.loop.batch import Batch
from derate.loop.body import Body, body_for, simulated
from derate.loop.ready import Specimen
from derate.loop.run import run
from derate.sensing.chain import chains_of
from derate.study.tune_check import margins_of

ROWS = 2000
"""Steps of the random walk by which a controller alone is looked at."""
WARM = 200
"""Control periods after which the rig is warm."""


def never_exceeds(
    lamp: Lamp,
    profile: Profile | str | Path | None = None,
    *,
    guard_k: float = 0.0,
    faults: Sequence[str] = (),
    effort: int = EFFORT,
    seed: int = 0,
) -> None:
    """No place of the lamp passes its limit, or comes nearer to it than ``guard_k`` [K].

    In ``profile``, as ``derate.run`` takes it; without one in any history that a search finds, as
    ``derate challenge`` with ``faults``, ``effort`` and ``seed``.
    """
    lamp = simulated(lamp)
    if profile is not None:
        asked = profile if isinstance(profile, Profile) else profile_of(lamp, profile)[1]
        return _never_in(lamp, asked, guard_k, seed)
    study = challenge(
        lamp,
        Wanted(faults=tuple(faults), guard_k=guard_k, effort=effort, first=True, seed=seed),
    )
    if study.passed:
        found, unit = study.found, study.found.surroundings.unit
        keys = keys_of_finding(found, study.space)
        lived = profile_from(keys)
        whose = f" ({unit.name})" if unit.scores else ""
        raise PromiseBrokenError(
            f"{_nearest(study.margin_k, study.place, guard_k)}{whose}: {told(lived, lamp)}",
            unit.lamp,
            lived,
            seed=seed,
            unit=unit.number,
            firmware=lamp if unit.scores else None,
            keys={} if unit.scores else keys,
        )


def never_more_light_than_requested(lamp: Lamp, body: Body | None = None) -> None:
    """No duty is above its request, nor above 1, whatever codes and requests come."""
    lamp = simulated(lamp)
    chains = chains_of(lamp)
    body = body or body_for(lamp, chains)
    codes = 1 << max(chain.sensor.adc.bits for chain in chains)
    walk = random_walk(len(lamp.sensors), len(lamp.channels), codes, rows=ROWS)
    body.start()
    for row, (read, asked) in enumerate(zip(walk.codes, walk.requests, strict=True)):
        duties = body.step(read.tolist(), asked.tolist()).duties_q15
        for name, duty, request in zip(lamp.channels, duties, asked.tolist(), strict=True):
            if duty > min(request, ONE_Q15):
                raise PromiseBrokenError(
                    f"in step {row} of a random walk {name} is driven at {duty / ONE_Q15:.4f},"
                    f" asked for {request / ONE_Q15:.4f}, codes {read.tolist()}",
                    lamp,
                )


def safe_on_sensor_fault(
    lamp: Lamp, body: Body | None = None, *, kinds: Sequence[str] = WIRES, within: int = PATIENCE
) -> None:
    """A broken sensor leads to the safe duty in ``within`` control periods, and keeps it there.

    Each sensor breaks when cold, when warm, and while dark; requests change while it is broken, and
    the controller is switched off and on.
    """
    rig = Rig(lamp, body)
    safe_q15 = round(rig.lamp.controller.safe_duty * ONE_Q15)
    for sensor in rig.lamp.sensors:
        for kind in kinds:
            for warm, dark in ((False, False), (True, False), (True, True)):
                rig.begin()
                _ask(rig, 1.0)
                _wait(rig, WARM if warm else 0)
                _ask(rig, 0.0 if dark else 1.0)
                _wait(rig, 2)
                rig.breaks(sensor, kind)
                when = f"{kind} ({sensor}) {'when warm' if warm else 'when cold'}"
                for doing, ask in (("", 1.0), (", dark and on again", 0.0), (" again", 1.0)):
                    _ask(rig, ask)
                    _demand_safe(rig, within, safe_q15, when + doing)
                rig.reset()
                _demand_safe(rig, within, safe_q15, f"{when}, off and on")


def recovers_within(
    lamp: Lamp, within_s: float, body: Body | None = None, *, kinds: Sequence[str] = WIRES
) -> None:
    """So long [s] after a sensor is mended no fault is in force, and light is given back.

    All that was given before the fault, or what the policy then allows.
    """
    rig = Rig(lamp, body)
    periods = int(within_s / rig.lamp.timing.control_period_s)
    for sensor in rig.lamp.sensors:
        for kind in kinds:
            rig.begin()
            _ask(rig, 1.0)
            _wait(rig, 2)
            rig.breaks(sensor, kind)
            _wait(rig, 2 * PATIENCE)
            rig.heals(sensor)
            _wait(rig, max(1, periods))
            left = rig.command.status & (command.FAULT | command.RAMP)
            if left:
                what = "a fault is" if left & command.FAULT else "hold and release are"
                when = f"{duration(within_s)} after {kind} ({sensor}) was mended"
                raise PromiseBrokenError(f"{when} {what} still in force", rig.lamp)


def _never_in(lamp: Lamp, profile: Profile, guard_k: float, seed: int) -> None:
    batch = _batch(lamp, profile, seed)
    number = lamp.title.unit or 0
    if float(np.min(batch.run([Specimen(number, lamp)]).margin_k)) >= guard_k:
        return
    margins_k = margins_of(run(lamp, profile, seed=seed))
    place = min(margins_k, key=lambda name: margins_k[name])
    words = _nearest(margins_k[place], place, guard_k)
    raise PromiseBrokenError(
        f"{words}: {told(profile, lamp)}",
        lamp,
        profile,
        seed=seed,
        unit=number,
        keys=_keys(profile, lamp),
    )


_ready: list[tuple[Lamp, int, Batch]] = []
"""Of the last lamp asked about: hypothesis asks about one with very many profiles."""


def _batch(lamp: Lamp, profile: Profile, seed: int) -> Batch:
    if not (_ready and _ready[0][0] is lamp and _ready[0][1] == seed):
        _ready[:] = [(lamp, seed, Batch(lamp, profile, seed=seed, threads=1))]
    return _ready[0][2].through(profile)


def _keys(profile: Profile, lamp: Lamp) -> dict[str, Any]:
    """A profile drawn piece by piece as a file has it; empty for one of another kind."""
    history = history_of(profile, lamp)
    if history is None or profile.start_c is not None:
        return {}
    courses = profile.ambient_courses(lamp.ambients)
    ambient_c = {name: course.knots[0] for name, course in courses.items()}
    return profile_keys(history, lamp, ambient_c)


def _nearest(margin_k: float, place: str, guard_k: float) -> str:
    if margin_k < 0.0:
        return f"{place} {-margin_k:.2f} K above its limit"
    return f"{place} {margin_k:.2f} K below its limit, where {guard_k:g} K are asked for"


def _ask(rig: Rig, share: float) -> None:
    rig.requests_q15 = [round(share * ONE_Q15)] * len(rig.lamp.channels)


def _wait(rig: Rig, periods: int) -> None:
    for _ in range(periods):
        rig.step()


def _demand_safe(rig: Rig, within: int, safe_q15: int, when: str) -> None:
    """Let the rig run until a fault must have been seen and may have been forgotten."""
    timing, settings = rig.lamp.timing, rig.lamp.controller
    clears = int(settings.clear_after_s / timing.control_period_s)
    answers: list[Command] = [rig.step() for _ in range(within + 2 * clears + WARM // 4)]
    for period, given in enumerate(answers):
        if period >= within and max(given.duties_q15) > safe_q15:
            raise PromiseBrokenError(
                f"{when}: {max(given.duties_q15) / ONE_Q15:.3f} is driven {period + 1} control"
                f" periods later, safe is {safe_q15 / ONE_Q15:.3f}",
                rig.lamp,
            )
