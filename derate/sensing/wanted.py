"""What is asked of a reading table and of the divider beside it."""

import math
from dataclasses import dataclass
from typing import get_args

from derate.errors import InputError
from derate.sensing.design import Aim
from derate.sensing.lookup import MAX_ERROR_K
from derate.sensing.preferred import Series


@dataclass(frozen=True)
class Wanted:
    """What is asked of the table: an error [K] or a size [bytes], a kind, counts per kelvin.

    Without an error and a size the error is 0.1 K, without a kind all kinds are tried.
    ``interest_c`` [degC]: over which divider resistors are judged, the working range by default;
    ``aim``: by their resolution or error; ``series``: the preferred values they are taken from.
    """

    max_error_k: float | None = None
    max_bytes: int | None = None
    kind: str | None = None
    scale: int = 100
    threshold_c: float | None = None
    interest_c: tuple[float, float] | None = None
    seed: int = 0
    aim: Aim = "resolution"
    series: Series = "E24"

    def __post_init__(self) -> None:
        """Refuses what can be no wish."""
        if self.max_error_k is not None and not 0.0 < self.max_error_k < math.inf:
            raise InputError(f"max_error: found {self.max_error_k:g} K, due an error above zero")
        for name, found, due in (("aim", self.aim, Aim), ("series", self.series, Series)):
            if found not in get_args(due):
                raise InputError(f"{name}: found {found!r}, due one of {', '.join(get_args(due))}")

    @property
    def error_k(self) -> float | None:
        """The error [K] that the table keeps to, None when its size is asked for."""
        if self.max_error_k is None and self.max_bytes is None:
            return MAX_ERROR_K
        return self.max_error_k

    def words(self) -> str:
        """What is asked, in one line."""
        parts = [self.kind or "the best of all kinds", f"1/{self.scale} degC"]
        if self.error_k is not None:
            parts.append(f"at most {self.error_k:g} K")
        if self.max_bytes is not None:
            parts.append(f"at most {self.max_bytes} bytes")
        return ", ".join(parts)


DEFAULT = Wanted()
