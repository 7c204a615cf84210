"""Thermal derating of high-power LED lamps, designed with the firmware in the loop.

The names a notebook needs: ``load`` a lamp file, ``run`` it through a profile, ask what is
``possible`` there; the ``table`` of a thermistor without a lamp, and its ``table_files`` for the
firmware.
"""

from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "load", "possible", "run", "table", "table_files"]


def __getattr__(name: str) -> Any:
    """These come when asked for, so that ``import derate`` costs nothing."""
    if name == "load":
        from derate.lamp import load

        return load
    if name == "run":
        from derate.loop.run import run

        return run
    if name == "possible":
        from derate.study.possible import possible

        return possible
    if name == "table":
        from derate.sensing.bare import table

        return table
    if name == "table_files":
        from derate.firmware.table_files import table_files

        return table_files
    raise AttributeError(f"module 'derate' has no attribute {name!r}")
