"""What a run leaves behind: one row per control tick, and the intervals the plant went through."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Trace:
    """Columns by name, each with its unit as suffix; row k is what holds from tick k to the next.

    Temperatures are those at the tick, means over a PWM period but for the crests of junctions;
    duty and light are means until the next. Arrays have one entry per control tick, and a last row
    at the end of the run.
    """

    columns: dict[str, Array]

    def hottest(self, channel: str) -> str:
        """Column of what a junction limit holds for: the crests of PWM, else the junctions."""
        crest = f"crest_{channel}_c"
        return crest if crest in self.columns else f"junction_{channel}_c"

    def __getitem__(self, name: str) -> Array:
        return self.columns[name]

    def __contains__(self, name: str) -> bool:
        return name in self.columns

    def __len__(self) -> int:
        return len(self.columns["time_s"])

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in the order of the file."""
        return tuple(self.columns)

    def to_pandas(self) -> "pandas.DataFrame":
        """The trace as a data frame indexed by time [s]."""
        import pandas

        return pandas.DataFrame(self.columns).set_index("time_s")


class Rows:
    """Rows collected during a run in arrays that grow by doubling.

    Each field is (name, width, type); ``append`` takes the values in that order.
    """

    def __init__(self, capacity: int, fields: dict[str, tuple[int, type]]) -> None:
        self._arrays: list[NDArray[Any]] = [
            np.zeros((max(capacity, 16), w), t) for w, t in fields.values()
        ]
        self._names = tuple(fields)
        self.count = 0

    @classmethod
    def of(cls, arrays: dict[str, NDArray[Any]]) -> "Rows":
        """Finished rows: arrays (rows, width) by name."""
        rows = cls(0, {})
        rows._arrays, rows._names = list(arrays.values()), tuple(arrays)
        rows.count = len(rows._arrays[0])
        return rows

    def append(self, *values: object) -> None:
        """Add one row; a value is a scalar or an array of the field's width."""
        if self.count == len(self._arrays[0]):
            self._arrays = [np.concatenate((a, np.zeros_like(a))) for a in self._arrays]
        row = self.count
        for array, value in zip(self._arrays, values, strict=True):
            array[row] = value
        self.count += 1

    def __getitem__(self, name: str) -> NDArray[Any]:
        """All rows of a field, shape (count, width)."""
        array: NDArray[Any] = self._arrays[self._names.index(name)][: self.count]
        return array
