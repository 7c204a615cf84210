"""Durations as whole control periods, the only clock a controller has."""

import math

SLACK = 1e-9
"""A duration that exceeds n periods by less than this share of one still counts as n."""


def periods_in(duration_s: float, period_s: float) -> int:
    """Control periods of ``period_s`` [s] that cover ``duration_s`` [s], rounded up."""
    return math.ceil(duration_s / period_s - SLACK)
