"""Two lamps side by side at the same point, and what their parts cost."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Cost:
    """Sum of the prices of the parts that have one; ``parts``: name -> sum for all of its kind.

    ``unpriced``: parts without a price; ``currency``: a label.
    """

    total: float
    currency: str
    parts: dict[str, float]
    unpriced: tuple[str, ...]


@dataclass(frozen=True)
class Side:
    """One lamp of a comparison; nan in a runaway, ``cost`` None where nothing has a price."""

    name: str
    light_lm: float
    supply_w: float
    efficacy_lm_per_w: float
    limiting: str
    margin_k: float
    permitted: float
    permitted_lm: float
    cost: Cost | None
    runaway: bool


@dataclass(frozen=True)
class Comparison:
    """The lamp of the study and the one it is held against."""

    this: Side
    other: Side
