"""The way of the heat from a junction to the ambient, step by step."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """One step: ``what`` lies between ``start`` and ``end``, the heat through it, its drop.

    ``what`` is in words ("junction to solder", "solder joint", "link interface", "board",
    "surface fins"); ``heat_w`` [W] flows through it with all its parallel links, also that of
    other channels; ``drop_k`` [K].
    """

    start: str
    end: str
    what: str
    heat_w: float
    drop_k: float

    @property
    def resistance_k_per_w(self) -> float:
        """Drop per watt that flows here [K/W]; nan without flow."""
        return self.drop_k / self.heat_w if self.heat_w else float("nan")


@dataclass(frozen=True)
class HeatPath:
    """From the hottest junction of a channel along the strongest flow; the drops sum to its rise.

    ``ambient``: where it ends; ``rise_k`` [K]: junction above that ambient.
    """

    channel: str
    ambient: str
    rise_k: float
    steps: tuple[Step, ...]
