"""An invented lamp at rest: two channels on a board, a sink, a driver; all numbers made up."""

import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np

from derate.lamp.board import Board
from derate.plant.board.maps import BoardMap, SensorMap
from derate.plant.board.reduce import Reduction
from derate.study.best import BestCommand, SafeAmbient
from derate.study.board import BoardPoint, Spreading
from derate.study.comparison import Comparison, Cost, Side
from derate.study.derating import Derating
from derate.study.helps import Help, WhatIf
from derate.study.impedance import Impedance
from derate.study.operation import ChannelPoint, Limit, NodePoint, Power, SensorPoint, Stability
from derate.study.path import HeatPath, Step
from derate.study.point import PointStudy
from derate.study.settle import Settled
from derate.study.surfaces import FanPoint, SurfacePoint
from derate.study.threshold import ReadingAtLimit, ReadingCurve, ThresholdRelation
from tests.report.invented_colour import COLOUR, SHARED

NAN = float("nan")
AMBIENT_C = 35.0
LIMIT_C = 115.0
SINK_C, BOARD_C = 78.2, 81.9
CHANNELS = ("cool", "warm")
AT_M = {
    "cool": ((0.02, 0.02), (0.05, 0.02), (0.08, 0.02), (0.035, 0.04), (0.065, 0.04)),
    "warm": ((0.02, 0.04), (0.08, 0.04), (0.035, 0.02), (0.065, 0.02), (0.05, 0.05)),
}


def printed_board(**shape):
    """A board of this shape."""
    layers = {
        "copper": {"thickness_m": 70e-6},
        "dielectric": {"thickness_m": 1e-4, "conductivity_w_per_m_k": 2.2},
        "core": {"material": "aluminium_5052", "thickness_m": 1.5e-3},
    }
    return Board.model_validate(layers | shape)


def invented_lamp():
    """What figures and page ask of a lamp."""
    channels = {
        name: SimpleNamespace(
            at=AT_M[name], pad_m=(0.007, 0.006), pad_on="dielectric", emitter="white"
        )
        for name in CHANNELS
    }
    policy = SimpleNamespace(kind="foldback", thresholds_c={"start": 76.0, "end": 92.0})
    holes = [
        {"at": (x_m, y_m), "diameter_m": 0.0034} for x_m in (0.006, 0.094) for y_m in (0.006, 0.054)
    ]
    return SimpleNamespace(
        name="Invented workshop light",
        title=SimpleNamespace(note="Every number is invented.", currency="EUR"),
        text='[lamp]\nname = "Invented <workshop> light"\n',
        channels=channels,
        nodes={"sink": SimpleNamespace(limit_c=85.0), "driver_board": SimpleNamespace(limit_c=95)},
        controller=SimpleNamespace(policy=policy, cutoff_c=100.0),
        board=printed_board(size_m=(0.1, 0.06), holes=holes),
        emitters={"white": SimpleNamespace(footprint_m=(0.0033, 0.0033))},
        sensors={"ntc": SimpleNamespace(at=(0.02, 0.03))},
        solder_points=lambda name: [f"solder.{name}.{n + 1}" for n in range(len(AT_M[name]))],
    )  # fmt: skip


def invented_channel(name, junction_c, solder_c, light_lm, duty=1.0, limit_c=LIMIT_C):
    """One channel that fits the rest of the lamp."""
    return ChannelPoint(
        name=name,
        emitters=5,
        duty=duty,
        current_a=1.0 * duty,
        voltage_v=14.62,
        electrical_w=14.62 * duty,
        heat_w=9.71 * duty,
        radiant_w=4.91 * duty,
        light_lm=light_lm * duty,
        efficacy_lm_per_w=light_lm / 14.62,
        junction=f"junction.{name}.4",
        junction_c=junction_c,
        ripple_k=0.8,
        solder=f"solder.{name}.4",
        solder_c=solder_c,
        limit_c=limit_c,
        margin_k=limit_c - junction_c - 0.8,
        junction_to_solder_k_per_w=5.12,
        junction_to_solder_electrical_k_per_w=3.4,
    )


def invented_path(name, junction_c, solder_c):
    """From the junction over board, interface, sink and fins into the air."""
    stations = (
        (f"junction.{name}.4", junction_c, "junction to solder", 1.94),
        (f"solder.{name}.4", solder_c, "board", 1.94),
        ("board", BOARD_C, "link interface", 19.4),
        ("sink", SINK_C, "surface fins", 19.1),
        ("ambient", AMBIENT_C, "", 0.0),
    )
    steps = tuple(
        Step(start, end, what, heat_w, start_c - end_c)
        for (start, start_c, what, heat_w), (end, end_c, _, _) in itertools.pairwise(stations)
    )
    return HeatPath(name, "ambient", junction_c - AMBIENT_C, steps, 3.57, 2.16)


def invented_derating():
    """Full drive up to 39 degC, then the sink, then the cool junction says how much."""
    ambient_c = np.arange(-20.0, 101.0, 2.0)
    sink = (85.0 - ambient_c) / 46.0
    junction = (112.0 - ambient_c) / 70.0
    permitted = np.clip(np.minimum(sink, junction), 0.0, 1.0)
    acting = tuple(
        "" if share >= 1 else ("sink" if by_sink < by_junction else "junction.cool.4")
        for share, by_sink, by_junction in zip(permitted, sink, junction, strict=True)
    )
    light_lm = 3120.0 * permitted * (1 - 0.0012 * (ambient_c - AMBIENT_C))
    return Derating(
        mix=dict.fromkeys(CHANNELS, 1.0),
        ambient_c=ambient_c,
        permitted=permitted,
        light_lm=light_lm,
        acting=acting,
        full_until_c=39.0,
        dark_from_c=85.0,
        here=1.0,
        here_lm=3120.0,
        here_acting="",
    )


def invented_threshold():
    """The reading runs 20 K and more behind both junctions."""
    ambient_c = np.linspace(-20.0, 85.0, 43)
    request = np.linspace(0.0, 1.0, 31)
    by_ambient = ReadingCurve(
        "ambient",
        ambient_c,
        ambient_c + 43.0,
        np.stack([ambient_c + 69.3, ambient_c + 65.0], axis=1),
    )
    by_request = ReadingCurve(
        "request",
        request,
        AMBIENT_C + 43.0 * request,
        np.stack([AMBIENT_C + 69.3 * request, AMBIENT_C + 65.0 * request**1.05], axis=1),
    )
    at_limit = (
        ReadingAtLimit("cool", "ambient", LIMIT_C - 69.3, LIMIT_C - 26.3),
        ReadingAtLimit("warm", "ambient", LIMIT_C - 65.0, LIMIT_C - 22.0),
    )
    return ThresholdRelation("ntc", CHANNELS, (by_ambient, by_request), at_limit)


def invented_best():
    """Beyond 152 % of the command more current gives less light."""
    command = np.linspace(0.02, 1.5, 75)
    light_lm = 3120.0 * command * (1.62 - 0.62 * command) / 1.0
    return BestCommand(
        command=command,
        light_lm=light_lm,
        junction_c=AMBIENT_C + 69.3 * command**1.2,
        table_end=1.5,
        most_at=1.31,
        most_lm=float(3120.0 * 1.31 * (1.62 - 0.62 * 1.31)),
        falls=True,
        within_at=1.0,
        within_lm=3120.0,
    )


def invented_impedance(name, scale=1.0):
    """Die, board and sink answer one after the other."""
    time_s = np.logspace(-6, 4, 121)
    parts = ((5.1, 5e-3), (1.9, 0.9), (0.4, 9.0), (2.2, 560.0))
    rise = np.array([k_per_w * (1 - np.exp(-time_s / lag_s)) for k_per_w, lag_s in parts]) * scale
    ambient = rise.sum(axis=0)
    return Impedance(
        channel=name,
        time_s=time_s,
        solder_k_per_w=rise[0],
        ambient_k_per_w=ambient,
        to={"board": rise[0] + rise[1], "ntc": rise[0] + rise[1] + 0.6 * rise[2]},
    )


def invented_board():
    """A field that is warm around each emitter, and where a thermistor may sit."""
    x_m, y_m = (np.arange(100) + 0.5) * 1e-3, (np.arange(60) + 0.5) * 1e-3
    across, along = np.meshgrid(x_m, y_m)
    celsius = np.full(across.shape, 79.0)
    for name in CHANNELS:
        for at_x_m, at_y_m in AT_M[name]:
            near = np.exp(-np.hypot(across - at_x_m, along - at_y_m) / 0.006)
            celsius += (7.0 if name == "cool" else 6.0) * near
    hole = np.zeros(across.shape, bool)
    for x, y in ((0.006, 0.006), (0.094, 0.006), (0.006, 0.054), (0.094, 0.054)):
        hole |= np.hypot(across - x, along - y) < 0.0017
    field = BoardMap(x_m, y_m, np.where(hole, NAN, celsius))
    allowed = ~hole
    for at in (*AT_M["cool"], *AT_M["warm"]):
        allowed &= (np.abs(across - at[0]) > 0.0035) | (np.abs(along - at[1]) > 0.003)
    allowed &= (across > 1.5e-3) & (across < 98.5e-3) & (along > 1.5e-3) & (along < 58.5e-3)
    offset_k = np.where(allowed, 104.3 - celsius, NAN)
    lag_s = np.where(allowed, 0.4 + 0.19 * (104.3 - celsius), NAN)
    places = SensorMap(
        x_m=x_m,
        y_m=y_m,
        offset_k=offset_k,
        lag_s=lag_s,
        channel_offset_k={"cool": offset_k},
        channel_lag_s={"cool": lag_s},
        advised_m=(0.043, 0.0305),
        advised_offset_k=18.4,
        advised_lag_s=3.9,
    )
    error = Reduction(18, 3e-12, 0.0071, 0.004, 0.0066, 0.0052)
    spreading = (Spreading("solder.cool.4", 1.93, 1.81), Spreading("solder.warm.4", 1.88, 1.77))
    return BoardPoint(error, field, places, spreading)


def invented_surfaces():
    """Fins with a fan, and the front of the board; none of it is true."""
    flow = np.linspace(0.0, 15.0, 31) / 3600.0
    fan = FanPoint(
        9.0 / 3600.0, 12.0, flow, 30.0 * (1 - flow * 240.0), 12.0 * (flow * 400.0) ** 1.5
    )
    fins = SurfacePoint(
        "surface fins", "sink", "ambient", SINK_C, AMBIENT_C, 0.06, 19.1, 17.0, 2.1, 6.6, 0.81,
        0.95, 7.2, 1.6, 6.1, fan,
    )  # fmt: skip
    front = SurfacePoint(
        "front of the board", "board", "ambient", BOARD_C, AMBIENT_C, 0.006, 3.2, 1.5, 1.7, 5.3, 6.0
    )
    bracket = replace(
        front, name="surface bracket", area_m2=NAN, convection_w=NAN, radiation_w=NAN,
        convection_w_per_m2_k=NAN, radiation_w_per_m2_k=NAN,
    )  # fmt: skip
    return fins, bracket, front


def invented_comparison():
    """Beside a lamp with a better board that costs more."""
    cost = Cost(24.37, "EUR", {"emitters": 8.5, "board": 2.6, "fins": 4.9, "driver": 7.5}, ())
    dearer = replace(cost, total=27.9)
    this = Side(
        "Invented workshop light", 3120.0, 32.1, 97.2, "sink", 6.8, 1.0, 3120.0, cost, False
    )
    other = replace(this, name="Invented copper light", margin_k=11.4, cost=dearer)
    return Comparison(this, other)


def invented_study(**changes):
    """The whole study; it holds."""
    channels = (
        invented_channel("cool", 104.3, 94.4, 1610.0),
        invented_channel("warm", 100.0, 92.0, 1510.0),
    )
    study = PointStudy(
        source={
            "lamp": "Invented workshop light",
            "lamp_file": "workshop.toml",
            "lamp_sha256": "5e" * 32,
            "command": "derate point workshop.toml",
        },
        lamp=invented_lamp(),
        ambient_c=AMBIENT_C,
        airflow=1.0,
        requests=dict.fromkeys(CHANNELS, 1.0),
        stability=Stability(False, 0.04, ""),
        channels=channels,
        sensors=(SensorPoint("ntc", "place.ntc", 79.1, 78.9, 78.4, 812, "", -1.9, 1.6),),
        nodes=(
            NodePoint("board", "mean of the board", BOARD_C, None, None),
            NodePoint("solder.cool.4", "", 94.4, None, None),
            NodePoint("solder.warm.4", "", 92.0, None, None),
            NodePoint("place.ntc", "", 79.1, None, None),
            NodePoint("sink", "extruded heat sink", SINK_C, 85.0, 85.0 - SINK_C),
            NodePoint("driver_board", "driver", 75.4, 95.0, 19.6),
        ),
        colour=COLOUR,
        shared=SHARED,
        power=Power(
            32.13, 0.0004, 2.89, 0.0, 19.42, 9.82, {"ambient": 22.31}, 0.0, 2e-12, 3120.0, 97.1
        ),
        limit=Limit("sink", "", SINK_C, 85.0, 85.0 - SINK_C),
        paths=(invented_path("cool", 104.3, 94.4), invented_path("warm", 100.0, 92.0)),
        helps=(
            Help("area of surface fins", "surfaces.fins.size", -0.31),
            Help("heat that the driver loses", "driver.efficiency", 0.09),
            Help("emissivity of surface fins", "surfaces.fins.emissivity", -0.052),
            Help("resistance of interface", "board.interface.thickness", 0.0),
            Help("thickness of the board's core", "board.core.thickness", -0.0004),
        ),
        what_ifs=(
            WhatIf("surface fins 25 % larger", {}, -6.1, 21.0, 190.0),
            WhatIf("core twice as thick", {}, -0.1, 9.0, 4.0),
            WhatIf("interface of half the resistance", {}, 0.0, 12.0, 0.0),
            WhatIf("a second emitter on each pad", {}, 1.4, 560.0, 310.0),
        ),
        derating=invented_derating(),
        thresholds=(invented_threshold(),),
        best=invented_best(),
        safe_ambients=(
            SafeAmbient(1.0, 3120.0, 39.0, "sink"),
            SafeAmbient(0.75, 2340.0, 50.6, "sink"),
            SafeAmbient(0.5, 1560.0, 62.2, "sink"),
            SafeAmbient(0.25, 780.0, 73.7, "sink"),
        ),
        settled=Settled(
            True, 0.94, {"ntc": 77.0}, {"cool": 100.6, "warm": 96.5}, 2950.0, False, True, (),
            "Settles at 94 % of the requests, reading 77.0 degC.",
        ),
        impedances=(invented_impedance("cool"), invented_impedance("warm", 0.93)),
        board=invented_board(),
        cost=invented_comparison().this.cost,
        comparison=invented_comparison(),
        junction=Limit("junction.cool.4", "cool", 104.3, LIMIT_C, 9.9),
        junction_helps=(
            Help("resistance from junction to solder of white", "", 0.099),
            Help("thickness of the dielectric", "board.dielectric.thickness", 0.06),
            Help("area of surface fins", "", -0.3),
        ),
        surfaces=invented_surfaces(),
        warnings=("surface fins: Rayleigh number 3e3 is below the range of its formula",),
    )  # fmt: skip
    return replace(study, **changes)


def hot_study():
    """The same lamp where it passes two limits."""
    study = invented_study()
    hot = tuple(
        replace(one, junction_c=one.junction_c + 15, margin_k=one.margin_k - 15)
        for one in study.channels
    )
    nodes = tuple(
        replace(one, temperature_c=one.temperature_c + 15,
                margin_k=None if one.margin_k is None else one.margin_k - 15)
        for one in study.nodes
    )  # fmt: skip
    derating = replace(study.derating, here=0.76, here_lm=2730.0, here_acting="sink")
    limit = Limit("sink", "", SINK_C + 15, 85.0, 85.0 - SINK_C - 15)
    return replace(
        study, ambient_c=50.0, channels=hot, nodes=nodes, limit=limit, derating=derating,
        comparison=None, cost=None, board=None,
    )  # fmt: skip


def runaway_study():
    """No rest: what has no value is nan, and what follows from a rest is not there."""
    study = invented_study()
    lost = tuple(
        replace(one, **{
            field: NAN for field in (
                "current_a", "voltage_v", "electrical_w", "heat_w", "radiant_w", "light_lm",
                "efficacy_lm_per_w", "junction_c", "ripple_k", "solder_c", "margin_k",
                "junction_to_solder_electrical_k_per_w",
            )
        })
        for one in study.channels
    )  # fmt: skip
    power = Power(NAN, NAN, NAN, NAN, NAN, NAN, {"ambient": NAN}, NAN, NAN, NAN, NAN)
    nodes = tuple(
        replace(one, temperature_c=NAN, margin_k=None if one.margin_k is None else NAN)
        for one in study.nodes
    )
    return replace(
        study,
        stability=Stability(
            True, 1.2, "there is no rest: each kelvin of warming adds the heat for 1.2 more"
        ),
        channels=lost,
        sensors=(SensorPoint("ntc", "place.ntc", NAN, NAN, NAN, 0, "", NAN, NAN),),
        nodes=nodes,
        power=power,
        limit=None,
        paths=(),
        helps=(),
        what_ifs=(),
        surfaces=(),
        colour=None,
        shared=(),
        impedances=(),
        settled=None,
        junction=None,
        junction_helps=(),
        board=replace(study.board, field=None, places=None),
        comparison=None,
        derating=replace(study.derating, here=0.4, here_lm=1300.0, here_acting="runaway"),
    )
