"""Invented results for the report: one that holds, one that exceeds and hunts, a long one."""

import pytest

from derate.loop.merit import Hunting
from tests.report.invented import invented_result, invented_trace


@pytest.fixture(scope="session")
def held():
    """A run that held every limit."""
    return invented_result(invented_trace())


@pytest.fixture(scope="session")
def exceeded():
    """A run that exceeded a junction limit, and hunts."""
    hunting = Hunting(
        start_s=700.0,
        end_s=1500.0,
        period_s=38.0,
        swing_k=6.4,
        swing_limit=0.31,
        cause="poll",
        explanation="the controller looks too seldom; looking 8 times as often it stops",
        least_hysteresis_k=3.2,
    )
    return invented_result(invented_trace(), junction_limit_c=116.0, hunting=hunting)


@pytest.fixture(scope="session")
def long_run():
    """An hour and more at ten ticks a second: 36001 rows."""
    return invented_result(invented_trace(rows=36001))
