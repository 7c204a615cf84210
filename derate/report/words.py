"""Numbers in plain words."""

import math
import re

from derate.lamp.duration import duration as duration

SMALLEST = 1e-5
"""An error in kelvin that nobody needs to know more closely."""


def percent(ratio: float) -> str:
    """A ratio as percentage; ``-`` where there is none."""
    if not math.isfinite(ratio):
        return "-"
    return f"{100 * ratio:.0f} %" if ratio >= 1 else f"{100 * ratio:.1f} %"


def number(value: float, digits: int = 1) -> str:
    """A number with fixed decimals, zero without a sign; ``-`` where there is none."""
    return f"{_rounded(value, digits):.{digits}f}" if math.isfinite(value) else "-"


def signed(value: float, digits: int = 1) -> str:
    """A number with its sign and fixed decimals, zero without one; ``-`` where there is none."""
    rounded = _rounded(value, digits)
    if not math.isfinite(value):
        return "-"
    return f"{rounded:+.{digits}f}" if rounded else f"{rounded:.{digits}f}"


def _rounded(value: float, digits: int) -> float:
    return round(value, digits) + 0.0


def figures(value: float, count: int = 3) -> str:
    """A number with ``count`` significant figures, never in powers of ten; ``-`` where none."""
    if not math.isfinite(value):
        return "-"
    if value == 0:
        return "0"
    rounded = float(f"{value:.{count - 1}e}")
    return f"{value:.{max(0, count - 1 - math.floor(math.log10(abs(rounded))))}f}"


def small(value: float) -> str:
    """An error that should be small, with one figure; below 0.00001 it does not matter."""
    return figures(value, 1) if not abs(value) < SMALLEST else f"under {SMALLEST:.5f}"


def typeset(text: str) -> str:
    """A sentence as it stands in figures and on the page: signs of degree, minus and times."""
    text = text.replace("degC", "\N{DEGREE SIGN}C")
    text = re.sub(r"(?<![\w.])-(?=\d)", "\N{MINUS SIGN}", text)
    return re.sub(r" x (?=\d)", " \N{MULTIPLICATION SIGN} ", text)


def encoded(text: str) -> bytes:
    """A text as UTF-8; what is no letter, as in names of files that are not UTF-8, as escapes."""
    return text.encode("utf-8", "backslashreplace")


def below_or_above(margin_k: float) -> str:
    """A margin to a limit [K] in words."""
    if margin_k < 0:
        return f"{_few(-margin_k)} K above its limit"
    return f"{_few(margin_k)} K below its limit"


def _few(margin_k: float) -> str:
    return f"{margin_k:.1f}" if margin_k >= 0.1 or margin_k == 0 else figures(margin_k, 1)
