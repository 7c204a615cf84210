"""Where thermal control comes to rest at the requests and the ambient of the point."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Settled:
    """Rest of lamp and policy together, each reading held until everything has settled.

    ``settles``: whether there is one; otherwise control goes to and fro between the rows of
    ``between``. ``limit`` [0..1]: what the policy allows, ``reading_c`` [degC] per sensor,
    ``junction_c`` [degC] per channel, hottest, ripple included; ``light_lm`` [lm]; ``cut_off``:
    the reading is beyond the cut-off, the duty is the safe one; ``holds``: all limits hold there.
    ``sentence`` says it in words.
    """

    settles: bool
    limit: float
    reading_c: dict[str, float]
    junction_c: dict[str, float]
    light_lm: float
    cut_off: bool
    holds: bool
    between: tuple[tuple[float, float], ...]
    sentence: str
