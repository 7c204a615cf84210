"""The whole closed loop of every demo lamp against an independent integration."""

from pathlib import Path

import numpy as np
import pytest

from derate.lamp import load
from derate.loop.body import body_for
from derate.loop.timeline import Timeline
from derate.sensing.chain import chains_of
from tests.loop.closed_loop_ivp import Circuit, code_of

SIMS = Path(__file__).parents[2] / "sims"
AGREEMENT_K = 0.01
"""What the project promises for noise off; the integrator itself works to about 1e-5 K."""
QUIET = {
    "timing.control_jitter": "0 s",
    "timing.adc_jitter": "0 s",
}
Q15_ONE = 32768
STRETCH_S = {"cycle_front_lamp": 900.0, "stage_wash": 540.0, "hand_lamp": 1500.0}
"""Lamps with long profiles are compared over their first part, which covers heating, foldback and
every kind of jump; ``shift`` brings the stage light's fan stop forward into it."""


def quiet(name):
    """A demo lamp without noise and jitter, and its first profile, events brought forward."""
    lamp = load(SIMS / f"{name}.toml")
    changes = dict(QUIET) | {f"sensors.{s}.adc.noise": "0 LSB" for s in lamp.sensors}
    lamp = lamp.with_changes(changes)
    profile = next(iter(lamp.profiles.values()))
    duration_s = STRETCH_S.get(name, profile.duration_s)
    shift_s = 1320.0 if name == "stage_wash" else 0.0
    events = tuple(
        event.model_copy(
            update={"at_s": event.at_s - shift_s, "until_s": event.until_s and duration_s - 240.0}
        )
        for event in profile.events
    )
    return lamp, profile.model_copy(update={"duration_s": duration_s, "events": events})


def integrate(lamp, profile):
    """Times and temperatures of the hottest junctions and of all lamp nodes at control ticks."""
    circuit = Circuit(lamp)
    chains = chains_of(lamp)
    body = body_for(lamp, chains)
    body.start()
    ambient = {name: c for name, c in profile.ambient_courses(lamp.ambients).items()}
    temperatures = np.full(len(circuit.capacitance), ambient[lamp.ambients[0]].value(0.0))
    levels = 1 << lamp.driver.resolution_bits
    duties = commanded = np.zeros(len(lamp.channels))
    codes = np.zeros(len(chains), np.uint16)
    rows, at = [], 0.0
    pending_from = None
    for instant, task in agenda(lamp, profile):
        if task == "update" and (pending_from is None or pending_from == instant):
            continue
        if instant > at:
            temperatures = circuit.advance(
                temperatures,
                instant - at,
                duties,
                airflow_of(profile, (at + instant) / 2),
                lambda t: {name: course.value(t) for name, course in ambient.items()},
                at,
            )
            at = instant
        if task == "update":
            duties, pending_from = commanded, None
        elif task == "convert":
            current = sampled_current(lamp, duties, instant)
            for i, s in enumerate(lamp.sensors):
                t = temperatures[circuit.index[f"sensor {s}"]]
                codes[i] = code_of(lamp, s, t, current)
        elif task == "control":
            requests = np.array(
                [
                    round(profile.request[c].value(instant + 5e-10) * Q15_ONE)
                    if c in profile.request
                    else 0
                    for c in lamp.channels
                ],
                np.uint16,
            )
            given = body.step(codes, requests).duties_q15
            commanded = np.array([d * levels // Q15_ONE / levels for d in given])
            if lamp.timing.update_period_s:
                pending_from = instant if pending_from is None else pending_from
            else:
                duties = commanded
            rows.append((instant, *temperatures))
    rows = np.array(rows)
    return circuit, rows[:, 0], rows[:, 1:]


def agenda(lamp, profile):
    """Every instant at which something happens, in order, with what happens."""
    timing, end = lamp.timing, profile.duration_s
    items = [(0.0, 1, "convert")]
    items += [(t, 0, "world") for t in profile.jumps()]
    for order, task, period, phase in (
        (1, "update", timing.update_period_s, timing.update_phase_s),
        (2, "convert", timing.adc_period_s, timing.adc_phase_s),
        (3, "control", timing.control_period_s, timing.control_phase_s),
    ):
        if period:
            count = int(end / period) + 1
            times = (round(phase + k * period, 9) for k in range(count))
            items += [(t, order, task) for t in times if t < end]
    return [(t, task) for t, _, task in sorted(items)]


def airflow_of(profile, time_s):
    """Airflow factor with the events that scale it."""
    factor = profile.airflow.value(time_s)
    for event in profile.events:
        if event.kind == "airflow" and event.at_s <= time_s < (event.until_s or np.inf):
            factor *= event.factor
    return factor


def sampled_current(lamp, duties, time_s):
    """LED current at the sampling instant; all sensors of the demo lamps sample alike."""
    sampling = next(iter(lamp.sensors.values())).disturbance.sampling
    total = 0.0
    for channel, duty in zip(lamp.channels.values(), duties, strict=True):
        if lamp.driver.dimming == "current":
            total += duty * channel.current_a
        elif sampling == "off":
            total += channel.current_a if duty == 1.0 else 0.0
        else:
            phase = round(time_s * lamp.driver.frequency_hz, 6) % 1.0
            total += channel.current_a if phase < duty else 0.0
    return total


@pytest.mark.slow
@pytest.mark.parametrize("name", ["cycle_front_lamp", "stage_wash", "hand_lamp", "hunting_spot"])
def test_closed_loop_agrees_with_independent_integration(name):
    """Every node, at every control tick, agrees within 0.01 K with the C firmware in both loops."""
    lamp, profile = quiet(name)
    circuit, time_s, theirs = integrate(lamp, profile)
    chains = chains_of(lamp)
    recording = Timeline(lamp, profile, body_for(lamp, chains), chains).run()
    ours = recording.rows["node_c"][:-1].astype(float)
    assert np.array_equal(recording.rows["time_s"][:-1, 0], time_s)
    for node in lamp.nodes:
        gap = ours[:, recording.plant.node_index(node)] - theirs[:, circuit.index[node]]
        assert np.max(np.abs(gap)) < AGREEMENT_K, node
    for channel, branches in circuit.branches.items():
        hottest = theirs[:, [j for _, _, junctions in branches for j in junctions]].max(axis=1)
        gap = ours[:, recording.plant.junctions[channel]].max(axis=1) - hottest
        assert np.max(np.abs(gap)) < AGREEMENT_K, channel
