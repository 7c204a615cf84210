"""Course: a value over time, constant or given at instants, once or repeated."""

from bisect import bisect_right
from itertools import pairwise
from typing import Annotated, Any, Generic, Literal, Self, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import Field, PrivateAttr, model_validator

from derate.lamp.part import Part
from derate.lamp.quantities import (
    POSITIVE,
    Celsius,
    Ratio,
    Second,
    Share,
    check,
)
from derate.lamp.sentence import wrong

_NS = 10**9
V = TypeVar("V", bound=float)
MOST_AIRFLOW = 100.0
"""Of the airflow that the lamp file describes; more is a slip, no wind [-]."""
AirflowFactor = Annotated[
    Ratio,
    check(lambda factor: 0 <= factor <= MOST_AIRFLOW, f"a factor from 0 to {MOST_AIRFLOW:g}"),
]
COURSE_KEYS = frozenset({"at", "value", "between", "every", "at_s", "knots", "every_s"})


class Course(Part, Generic[V]):
    """A value over time; past its last instant it keeps the last value, or begins anew.

    ``between`` says what lies between two instants: "hold" keeps the value until the next, "line"
    goes straight to it. Times are counted in whole nanoseconds, so that a repeated course switches
    exactly where it should.
    """

    at_s: Annotated[
        tuple[Second, ...],
        check(lambda at: len(at) > 0 and at[0] == 0, "times that begin at 0 s"),
        check(lambda at: all(a < b for a, b in pairwise(at)), "times that rise one by one"),
    ]
    knots: tuple[V, ...] = Field(alias="value", description="a list with a value for each time")
    between: Literal["hold", "line"] = "hold"
    every_s: Annotated[Second, POSITIVE] | None = None

    _in_ns: tuple[tuple[int, ...], int] = PrivateAttr(default=((), 0))
    """``at_s`` and ``every_s``, 0 where it is not given; together, as asking for either is slow."""

    @classmethod
    def _as_table(cls, data: Any) -> Any:
        """A constant is a course of one instant."""
        if isinstance(data, dict | Course):
            return data
        return {"at": ("0 s",), "value": (data,)}

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if len(self.knots) != len(self.at_s):
            due = f'{len(self.at_s)} values, one for each entry of "at"'
            raise wrong(due, found=f"{len(self.knots)} values", key=("value",))
        if self.every_s is not None and self.every_s < self.at_s[-1]:
            raise wrong(f"at least the last time, {self.at_s[-1]:g} s", key=("every",))
        at_ns = tuple(round(at_s * _NS) for at_s in self.at_s)
        self._in_ns = at_ns, round((self.every_s or 0.0) * _NS)
        return self

    def value(self, t_s: float) -> float:
        """The value at time ``t_s`` [s]; at a jump the value after it."""
        if len(self.knots) == 1:
            return self.knots[0]
        t_ns, (at_ns, every_ns) = round(t_s * _NS), self._in_ns
        if every_ns:
            t_ns %= every_ns
        last = max(bisect_right(at_ns, t_ns) - 1, 0)
        if self.between == "hold" or last == len(self.knots) - 1:
            return self.knots[last]
        begin_ns, end_ns = at_ns[last], at_ns[last + 1]
        share = max(t_ns - begin_ns, 0) / (end_ns - begin_ns)
        return self.knots[last] + share * (self.knots[last + 1] - self.knots[last])

    def values(self, t_s: ArrayLike) -> NDArray[np.float64]:
        """The values at times ``t_s`` [s], an array of the same shape."""
        t_ns = np.rint(np.asarray(t_s, dtype=float) * _NS).astype(np.int64)
        at_ns, every_ns = self._in_ns
        if every_ns:
            t_ns = t_ns % every_ns
        at, knots = np.asarray(at_ns), np.asarray(self.knots, dtype=float)
        last = np.maximum(np.searchsorted(at, t_ns, side="right") - 1, 0)
        if self.between == "hold":
            return np.asarray(knots[last])
        after = np.minimum(last + 1, len(knots) - 1)
        share = np.maximum(t_ns - at[last], 0) / np.maximum(at[after] - at[last], 1)
        return np.asarray(knots[last] + share * (knots[after] - knots[last]))

    def jumps(self, until_s: float) -> tuple[float, ...]:
        """Times [s] in 0 < t < ``until_s`` at which the value jumps."""
        (at_ns, every_ns), knots = self._in_ns, self.knots
        if self.between == "hold" and at_ns[-1] == every_ns:
            at_ns, knots = at_ns[:-1], knots[:-1]  # the next round begins before the last shows
        jumping = {
            at for at, (before, after) in zip(at_ns[1:], pairwise(knots), strict=True)
            if self.between == "hold" and before != after
        }  # fmt: skip
        if every_ns and knots[-1] != knots[0]:
            jumping.add(every_ns)
        return self._within(jumping, until_s)

    def changes(self, until_s: float) -> tuple[float, ...]:
        """Times [s] in 0 < t < ``until_s`` at which the value jumps or its slope changes."""
        if self.between == "hold" or len(self.knots) == 1:
            return self.jumps(until_s)
        at_ns, every_ns = self._in_ns
        return self._within({*at_ns[1:], every_ns}, until_s)

    def _within(self, at_ns: set[int], until_s: float) -> tuple[float, ...]:
        until_ns, (_, every_ns) = round(until_s * _NS), self._in_ns
        starts_ns = range(0, until_ns, every_ns) if every_ns else (0,)
        all_ns = {start + at for start in starts_ns for at in at_ns}
        return tuple(t_ns / _NS for t_ns in sorted(all_ns) if 0 < t_ns < until_ns)


class TemperatureCourse(Course[Celsius]):
    """A temperature over time [degC]."""


class FactorCourse(Course[AirflowFactor]):
    """A factor on airflow over time."""


class ShareCourse(Course[Share]):
    """A share of full duty over time, 0..1."""
