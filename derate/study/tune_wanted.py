"""What is asked of a tuning."""

from dataclasses import dataclass

from derate.study.tune_search import MOST_GENERATIONS
from derate.study.tune_units import Corners
from derate.study.tune_visibility import JUST_NOTICEABLE


@dataclass(frozen=True)
class Wanted:
    """What is asked of a tuning.

    ``guard_k``: distance to every limit [K], None for 1 K with corners and 3 K without; ``step``,
    ``fall``: largest change within a second, deepest slow fall, as fractions of the light before
    [-]; ``least_light``: no floor below this [-]; ``keep``: names of settings that stay;
    ``corners``: of the tolerances; ``budget_s``: time for it all; ``generations``: at most, of
    each search.
    """

    guard_k: float | None = None
    step: float = JUST_NOTICEABLE
    fall: float = 1.0
    least_light: float = 0.0
    keep: tuple[str, ...] = ()
    corners: Corners = "likely"
    budget_s: float = 45.0
    generations: int = MOST_GENERATIONS
    seed: int = 0
