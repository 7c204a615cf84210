"""How a quantity is written, a number and a unit, and the number it stands for.

pint knows the units; it is loaded for those that are not the usual ones.
"""

import functools
import math
import re
from typing import Any

from derate.lamp.spelling import spellings
from derate.lamp.usual import USUAL

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*(\S.*?)\s*")
_UNIT_TEXT = re.compile(r"[A-Za-zµμΩΩ°%_0-9/*·^¹²³⁻(). -]{1,30}")
_AS_PINT = {"⁻¹": "^-1", "⁻²": "^-2", "·": "*", "²": "^2", "³": "^3"}
COUNTED = ("LSB", "bit")  # units of the converter's own, unknown to pint
_DEGREES = re.compile(r"(?:deg(?:ree_)?|°)(C|F)(?![a-z])")


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


@functools.lru_cache(maxsize=512)
def _scale(unit_text: str, symbol: str) -> tuple[float, float] | None:
    """Factor and offset from a written unit to ``symbol``; None when they do not agree."""
    text = unit_text
    for sign, meant in _AS_PINT.items():
        text = text.replace(sign, meant)
    if not _UNIT_TEXT.fullmatch(unit_text) or "**" in text:
        return None
    scales = (_scale_of(spelt, symbol) for spelt in spellings(text, symbol))
    return next((scale for scale in scales if scale is not None), None)


def _scale_of(text: str, symbol: str) -> tuple[float, float] | None:
    alone = _DEGREES.fullmatch(text)
    if alone and symbol != "degC":  # a point on a scale is not a difference
        return None
    if symbol == "lm" and not re.search("lm|lumen", text):  # candela differs by the solid angle
        return None
    text = f"deg{alone[1]}" if alone else _DEGREES.sub(r"delta_deg\1", text)
    try:
        units = _registry().parse_units(text)
        zero = _registry().Quantity(0.0, units).to(symbol or "dimensionless").magnitude
        one = _registry().Quantity(1.0, units).to(symbol or "dimensionless").magnitude
    except Exception:  # pint's parser fails in many ways on text that is no unit
        return None
    return one - zero, zero


def convert(text: str, symbol: str) -> float:
    """The number of ``text`` ("350 mA") in the unit ``symbol`` ("A"; "LSB"; "" for a ratio).

    Raises ValueError when it is no quantity of that dimension or not finite.
    """
    match = _QUANTITY.fullmatch(text)
    if not match:
        raise ValueError(text)
    number, unit_text = float(match[1]), match[2]
    if symbol in COUNTED or unit_text in COUNTED:
        factor, offset = 1.0, 0.0
        if unit_text != symbol:
            raise ValueError(text)
    else:
        pair = unit_text, symbol
        scale = USUAL[pair] if pair in USUAL else _scale(*pair)
        if scale is None:
            raise ValueError(text)
        factor, offset = scale
    whole = round(1 / factor) if 0 < factor < 1 else 0
    # dividing by 1000 keeps "350 mA" at 0.35 where multiplying by 0.001 does not
    exact = whole and math.isclose(whole * factor, 1, rel_tol=1e-14)
    value = (number / whole if exact else number * factor) + offset
    if not math.isfinite(value):
        raise ValueError(text)
    return value
