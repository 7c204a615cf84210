"""Invented emitters and lamps with colours for the tests of this room."""

from derate.lamp.emitter import Emitter

NM = 1e-9
CURVES = {
    "current": [0.1, 1.0],
    "forward_voltage": [2.5, 3.0],
    "radiant_flux": [0.05, 0.5],
    "luminous_flux": [10.0, 100.0],
    "forward_voltage_slope": -0.002,
    "junction": [0.0, 25.0, 125.0],
    "radiant_ratio": [1.125, 1.0, 0.5],
    "luminous_ratio": [1.125, 1.0, 0.5],
    "junction_to_solder_resistance": 3.0,
    "resistance_convention": "real",
    "junction_capacitance": 0.005,
}
"""Luminous flux falls by half over 100 K above the reference."""


def emitter(**colour):
    """An emitter of invented curves with the colour given."""
    return Emitter.model_validate(CURVES | colour)


def peaked(peak_nm, width_nm, **more):
    """A spectrum with a peak."""
    return {"peak": peak_nm * NM, "width": width_nm * NM, **more}
