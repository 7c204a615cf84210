"""Lamps under the predictive policy, for tests of its twins: demo lamps, and invented extremes."""

from pathlib import Path

from derate.control import predictive
from derate.control.lags import Lag
from derate.control.observer import Observer
from derate.lamp import Lamp, load
from tests.control.small_lamp import PREDICTIVE, small_lamp

DEMOS = Path(__file__).parents[2] / "sims"
MOST = 32767
PLAIN = {
    "controller.filter_shift": 0,
    "controller.attack": "1e9 1/s",
    "controller.release": "1e9 1/s",
    "controller.hold": "0 s",
}
"""No filter, and ramps so fast that they are none."""


def predictive_demo(name: str) -> Lamp:
    """A demo lamp whose light derates within the readings of a walk."""
    policy = {"kind": "predictive", "band": "40 K", "guard": "5 K", "floor": 0.05}
    return load(DEMOS / f"{name}.toml").with_changes({"controller.policy": policy} | PLAIN)


def extreme(sign: int, monkeypatch) -> Lamp:
    """A lamp whose observer is as large as its integers hold; ``sign`` 0: gains of both signs."""
    unsure = 1000
    one = (MOST - unsure) // 4
    gains = [sign * one] * 4 if sign else [one, -one, one, -one]
    rows = ((gains[0], gains[1]), (gains[2], gains[3]))
    found = Observer(
        places=("channel_0", "channel_1", "board"),
        airflows=((1.0,),) * 3,
        is_junction=(True, True, False),
        limit_c=(300.0, 120.0, -300.0 if sign > 0 else 100.0),
        missed_k=(0.0, 1.0, 2.0),
        now=((MOST // 2, MOST // 2), (0, 0), (MOST, 0)),
        gain=(rows, rows, rows),
        unsure=(unsure, 0, unsure),
        lags=(Lag(0xFFFF, 0, 0.1), Lag(1, 20, 1e9)),
        doubt=Lag(0x8000, 20, 1e5),
    )
    monkeypatch.setattr(predictive, "observer_of", lambda lamp, air: found)
    return small_lamp(PREDICTIVE | {"band": "327.67 K", "guard": "0 K"}, cutoff="124 degC")
