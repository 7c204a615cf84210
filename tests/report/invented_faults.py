"""An invented fault study: two faults, a cut-out that is enough for the junctions alone."""

import numpy as np

from derate.lamp import Lamp
from derate.limits.cutout import CutoutStudy, Window
from derate.limits.cutout_alone import Case, Outcome
from derate.limits.cutout_service import STANDING, Service
from derate.limits.early import Detection, look
from derate.limits.fault_cells import Cell, Saved
from derate.limits.fault_kinds import NONE, Fault
from derate.limits.fault_matrix import FaultStudy, Row
from derate.limits.surroundings import Surroundings
from derate.study.spread_units import Place
from tests.loop.lamps import spot

SPOT, SINK = Place("spot", True, 120.0), Place("sink", False, 65.0)
OPEN = Fault("thermistor open", {"kind": "sensor open", "sensor": "ntc"}, saved=True)
STUCK = Fault(
    "spot stuck on",
    {"kind": "channel stuck on", "channel": "spot"},
    saved=False,
    why="the driver no longer obeys",
)
CASE = Case(40.0, 0.0, True, False, 25.0)
GOOD = np.linspace(0.3, 0.5, 60)


def cell(margin_k=5.0, *, place=SINK, seen_s=None, let_go=False, saved=None):
    """A cell whose place is so far below its limit."""
    flag = "" if seen_s is None else "sensor open"
    peak_c = place.limit_c - margin_k
    return Cell(seen_s, flag, let_go, 0.5, 80.0, place, peak_c, margin_k, saved)


def outcome(place, margin_k, opened_s=300.0, peak_at_s=310.0):
    """What a stuck controller leaves at a place."""
    return Outcome(CASE, place, place.limit_c - margin_k, margin_k, peak_at_s, opened_s)


def invented_faults(*, fails=False, cutout=True, apart=True):
    """A study: ``fails`` where control ought to hold; no cut-out; units that are not ``apart``."""
    raw = spot()
    if cutout:
        raw["cutouts"] = {
            "switch": {"at": "board", "kind": "one-shot", "trip": 80.0, "tolerance": 3.0}
        }
    lamp = Lamp.model_validate(raw)
    saved = Saved(200.0, True, SINK, 70.0, -5.0) if cutout else None
    broken = cell(-12.0, seen_s=0.1, let_go=True, saved=saved)
    rows = (
        Row(NONE, (cell(),) * 4),
        Row(OPEN, (cell(seen_s=0.0), cell(seen_s=0.2), *2 * (broken if fails else cell(),))),
        Row(STUCK, (cell(-20.0, saved=saved),) * 4),
    )
    window = Window(72.0, 60.0, 81.0)
    alone = (outcome(SPOT, 8.0), outcome(SINK, -9.0))
    service = Service("switch", 77.0, 65.0, 70.0, 7.0, "extreme corner", STANDING)
    looks = tuple(look(w, GOOD, GOOD + (w / 10.0 if apart else 0.01)) for w in (1.0, 5.0, 20.0))
    return FaultStudy(
        lamp,
        Surroundings(25.0, 40.0, 0.1, 1.0, 0.0, "interface"),
        rows,
        ((25.0, cell(3.0, place=SPOT)), (60.0, cell(4.0, place=SPOT))),
        (Detection(10.0, looks),),
        CutoutStudy((service,), alone, alone, window) if cutout else None,
        (),
        {"lamp_file": "spot.toml", "lamp_sha256": "0" * 64, "seed": 0, "command": "derate faults"},
    )
