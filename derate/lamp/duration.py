"""A time in plain words."""

import math


def duration(time_s: float) -> str:
    """A time or duration [s] as an engineer says it: ``0.3 s``, ``3 min 20 s``, ``1 h 05 min``."""
    if not math.isfinite(time_s):
        return "-"
    if 0 < time_s < 0.1:
        return f"{time_s * 1000:.3g} ms"
    if time_s < 59.95:
        return f"{time_s:.3g} s"
    whole = round(time_s)
    hours, minutes, seconds = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"
    return f"{minutes} min {seconds:02d} s" if seconds else f"{minutes} min"
