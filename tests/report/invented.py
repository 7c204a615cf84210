"""An invented lamp of two channels over 40 minutes: it heats, folds back, loses its sensor."""

from types import SimpleNamespace

import numpy as np

from derate.loop.happenings import Happening
from derate.loop.merit import ChannelMerit, FaultMerit, Merit, NodeMerit, SensorMerit
from derate.loop.run import Result
from derate.loop.trace import Trace

DURATION_S = 2400.0
FAULT_FROM_S, FAULT_UNTIL_S = 1800.0, 1950.0
FAULT, OPEN = 8, 0x10


def lag(drive, time_s, time_constant_s):
    """First-order response to a drive, exact for a drive that holds over each step."""
    out = np.zeros_like(drive)
    for i in range(1, len(drive)):
        keep = np.exp(-(time_s[i] - time_s[i - 1]) / time_constant_s)
        out[i] = keep * out[i - 1] + (1 - keep) * drive[i - 1]
    return out


def invented_trace(rows=4801, heat_k=46.0):
    """Columns of an invented run; the sensor reads open for a while."""
    time_s = np.linspace(0.0, DURATION_S, rows)
    request = {
        "low_beam": np.where(time_s < 60, 0.3, 1.0),
        "high_beam": np.where((time_s > 700) & (time_s < 1500), 0.8, 0.0),
    }
    ambient_c = 25.0 + 20.0 * np.clip((time_s - 300) / 600, 0, 1)
    fault = (time_s >= FAULT_FROM_S) & (time_s < FAULT_UNTIL_S)
    board_k = lag(heat_k * (request["low_beam"] + 0.6 * request["high_beam"]), time_s, 260.0)
    limit = np.clip(1.0 - (ambient_c + board_k - 88.0) / 40.0, 0.2, 1.0)
    limit = np.where(fault, 0.3, limit)
    duty = {name: np.minimum(r, limit) for name, r in request.items()}
    board_k = lag(heat_k * (duty["low_beam"] + 0.6 * duty["high_beam"]), time_s, 260.0)
    board_c = ambient_c + board_k
    thermistor_c = ambient_c + lag(board_k, time_s, 8.0)
    noise_k = 0.3 * np.sin(np.arange(rows) * 12.9898) ** 3
    reading_c = np.where(fault, np.nan, thermistor_c - 0.4 + noise_k)
    columns = {"time_s": time_s, "ambient_c": ambient_c, "airflow": np.ones(rows)}
    for name, rise_k in (("low_beam", 24.0), ("high_beam", 31.0)):
        columns[f"request_{name}"] = request[name]
        columns[f"duty_{name}"] = duty[name]
        columns[f"junction_{name}_c"] = board_c + rise_k * duty[name]
        columns[f"light_{name}_lm"] = 1500.0 * duty[name] * (1 - 0.002 * board_k)
    columns["code_board"] = np.round(900.0 - 5.0 * thermistor_c)
    columns["reading_board_c"] = reading_c
    columns["thermistor_board_c"] = thermistor_c
    columns["node_core_c"] = board_c
    columns["node_sink_c"] = ambient_c + 0.6 * board_k
    columns["node_housing_c"] = ambient_c + 0.3 * board_k
    columns["limit"] = limit
    columns["status"] = np.where(fault, FAULT | OPEN, np.where(limit < 1, 2, 0)).astype(float)
    columns["light_lm"] = columns["light_low_beam_lm"] + columns["light_high_beam_lm"]
    full = 1500.0 * (1 - 0.002 * board_k)
    columns["asked_lm"] = full * (request["low_beam"] + request["high_beam"])
    return Trace(columns)


def peak_of(trace, column, limit_c):
    """Peak, its time, limit, margin and time above, from the ticks."""
    value, time_s = trace[column], trace["time_s"]
    top = int(np.argmax(value))
    above_s = float(np.sum(np.diff(time_s)[value[:-1] > limit_c]))
    return float(value[top]), float(time_s[top]), limit_c, limit_c - float(value[top]), above_s


def invented_result(trace, junction_limit_c=125.0, hunting=None):
    """A result around a trace, with merits that fit it."""
    channels = {
        name: ChannelMerit(*peak_of(trace, f"junction_{name}_c", junction_limit_c), 640.0, 0.87)
        for name in ("low_beam", "high_beam")
    }
    nodes = {"housing": NodeMerit(*peak_of(trace, "node_housing_c", 65.0))}
    held = all(m.margin_k >= 0 for m in (*channels.values(), *nodes.values()))
    merit = Merit(
        channels=channels,
        nodes=nodes,
        sensors={"board": SensorMerit(-0.7, 0.12, 0.46, 38.2)},
        light_lm_h=1204.5,
        share_of_request=0.874,
        electrical_wh=14.2,
        throttle_events=3,
        throttled_s=1312.0,
        largest_step=0.61,
        largest_step_at_s=FAULT_FROM_S,
        largest_step_from=0.77,
        largest_step_to=0.3,
        faults={"sensor open": FaultMerit(1, FAULT_UNTIL_S - FAULT_FROM_S, FAULT_FROM_S)},
        hunting=hunting,
        time_error_k=2.1e-4,
        ran_away_at_s=None,
        held=held,
        warnings=("junction of low_beam left the emitter's table at 25 to 125 degC",),
    )
    happenings = (
        Happening(700.0, "light held back", "throttle"),
        Happening(FAULT_FROM_S, "board open", "profile"),
        Happening(FAULT_FROM_S + 0.5, "fault seen: sensor 1 open", "fault"),
        Happening(FAULT_UNTIL_S, "board open: over", "profile"),
    )
    lamp = SimpleNamespace(
        name="Invented bicycle lamp",
        title=SimpleNamespace(note="Every number is invented."),
        text='[lamp]\nname = "Invented <bicycle> lamp"\n',
        controller=SimpleNamespace(body="python", sharing=SimpleNamespace(way="same share")),
        channels={},
    )
    return Result(
        lamp=lamp,
        profile=SimpleNamespace(about="a ride at dusk that ends in a warm garage", text=""),
        profile_name="commute",
        trace=trace,
        merit=merit,
        happenings=happenings,
        provenance={
            "version": "0.1.0",
            "lamp_file": "bicycle.toml",
            "lamp_sha256": "5e" * 32,
            "profile": "commute",
            "body": "c",
            "seed": 0,
            "unit": 0,
            "command": "derate run bicycle.toml",
        },
    )
