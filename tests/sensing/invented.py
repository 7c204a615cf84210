"""Invented sensors for the tests of this room, and chains made of them."""

from types import SimpleNamespace

from derate.lamp.sensor import Sensor
from derate.sensing.chain import Chain

ARRANGEMENTS = ("pull-up", "pull-down")
B_3950_10K = {"b_value_k": 3950.0, "resistance_25_ohm": 10e3}
ROUGH = {"offset_lsb": 1.5, "gain_error": 0.002, "inl_lsb": 1.0, "noise_lsb": 0.5}
"""Errors of an ADC such as a small microcontroller has; invented."""


def sensor(arrangement="pull-up", *, thermistor=None, disturbance=None, adc=None, **divider):
    """A sensor with a 10 kohm part at 10 kohm on 3.3 V and a 12-bit ADC unless told otherwise."""
    return Sensor(
        at="board",
        resistance_k_per_w=10.0,
        capacitance_j_per_k=0.05,
        thermistor=B_3950_10K if thermistor is None else thermistor,
        divider={
            "arrangement": arrangement,
            "resistor_ohm": 10e3,
            "supply_v": 3.3,
            "reference": "ratiometric",
            **divider,
        },
        adc={"bits": 12, **(adc or {})},
        disturbance=disturbance or {},
    )


def chain(*arguments, max_error_k=0.1, current_a=2.0, **keywords):
    """The chain of one invented sensor in a lamp of one channel of ``current_a``."""
    return chains(sensor(*arguments, **keywords), max_error_k=max_error_k, current_a=current_a)[0]


def chains(*sensors, max_error_k=0.1, current_a=2.0):
    """The chains of several invented sensors in one lamp."""
    named = {f"ntc_{i}": one for i, one in enumerate(sensors)}
    lamp = SimpleNamespace(
        sensors=named,
        toleranced=named.__getitem__,
        channels={"white": SimpleNamespace(current_a=current_a)},
    )
    return [Chain(lamp, name, max_error_k=max_error_k) for name in lamp.sensors]
