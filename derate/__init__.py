"""Thermal derating of high-power LED lamps, with the firmware in the loop."""

__version__ = "0.1.0"
