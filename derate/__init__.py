"""Thermal derating of high-power LED lamps, designed with the firmware in the loop.

The names a notebook needs: ``load`` a lamp file, ``run`` it through a profile.
"""

from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "load", "run"]


def __getattr__(name: str) -> Any:
    """``load`` and ``run`` come when asked for, so that ``import derate`` costs nothing."""
    if name == "load":
        from derate.lamp import load

        return load
    if name == "run":
        from derate.loop.run import run

        return run
    raise AttributeError(f"module 'derate' has no attribute {name!r}")
