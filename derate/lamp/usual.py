"""Units that nearly every lamp file is written in, and the factor to the unit that is due.

They are looked up here first, since the library that knows all units takes as long to load as the
rest of a command.
"""

_FACTORS: dict[str, dict[str, float]] = {
    "": {"%": 0.01},
    "1/K": {"1/K": 1.0, "%/K": 0.01},
    "1/K/s": {"%/K/s": 0.01},
    "1/s": {"%/s": 0.01},
    "A": {"A": 1.0, "mA": 0.001},
    "F": {"nF": 1e-9, "pF": 1e-12},
    "Hz": {"Hz": 1.0, "kHz": 1000.0},
    "J": {"J": 1.0, "uJ": 1e-6},
    "J/K": {"J/K": 1.0, "mJ/K": 0.001},
    "J/kg/K": {"J/(kg*K)": 1.0},
    "K": {"K": 1.0},
    "K/W": {"K/W": 1.0},
    "V": {"V": 1.0, "mV": 0.001},
    "V/A": {"mV/A": 0.001},
    "V/K": {"mV/K": 0.001},
    "W": {"W": 1.0, "mW": 0.001},
    "W/m/K": {"W/(m*K)": 1.0},
    "degC": {"degC": 1.0},
    "kg": {"g": 0.001},
    "kg/m^3": {"kg/m^3": 1.0},
    "lm": {"lm": 1.0},
    "m": {"m": 1.0, "mm": 0.001, "um": 1e-6, "nm": 1e-9},
    "m/K": {"nm/K": 1e-9},
    "m/s": {"m/s": 1.0},
    "ohm": {"ohm": 1.0, "kohm": 1000.0, "mohm": 0.001},
    "s": {"s": 1.0, "ms": 0.001, "us": 1e-6, "min": 60.0, "h": 3600.0},
}
_NO_RATIO = ("K",)
"""Units that are tried where a ratio may stand as well, and are none."""
USUAL: dict[tuple[str, str], tuple[float, float] | None] = {
    (unit, symbol): (factor, 0.0)
    for symbol, units in _FACTORS.items()
    for unit, factor in units.items()
} | {(unit, ""): None for unit in _NO_RATIO}
"""Factor and offset from a written unit to a symbol; None where they do not agree."""
