"""What would help the limiting junction: by how much for a percent, and what a change would do."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Help:
    """What one percent of a quantity does to the limiting node.

    ``what``: in words, "resistance of link interface", "emissivity of surface fins"; ``key``: in
    the lamp file, empty where it is no single key; ``per_percent_k`` [K]: rise of the node per
    percent *more* of the quantity, so that a negative one is worth enlarging.
    """

    what: str
    key: str
    per_percent_k: float


@dataclass(frozen=True)
class WhatIf:
    """A changed lamp solved again at the same point.

    ``what``: in words; ``limiting_k`` [K]: change of the node that limits now (negative: cooler),
    ``junction_k`` [K]: of the junction that is nearest to its limit; ``light_lm`` [lm]: change of
    the light at this point; ``permitted_lm`` [lm]: change of the light that is permitted at this
    ambient. nan where the changed lamp runs away.
    """

    what: str
    changes: dict[str, object]
    limiting_k: float
    light_lm: float
    permitted_lm: float
    junction_k: float = math.nan
