"""How units are commonly spelt where the library that knows units reads them otherwise or not."""

import re
from collections.abc import Iterator

_POWER = re.compile(r"(?<![A-Za-z])((?:[kcdmnµμu]?m)|ft|in)([23])(?![0-9])")
_BARE_CELSIUS = re.compile(r"(?<![A-Za-z])C(?![A-Za-z])")
_OUNCES = re.compile(r"\s*([0-9.]+)\s*oz(?:\s*/\s*ft(?:\^?2|²))?\s*")
OUNCE_UM = 34.8
"""Thickness of copper of one ounce on a square foot [um]: common practice, at 8.9 g/cm^3."""

_OF_SYMBOL: dict[str, tuple[tuple[re.Pattern[str], str], ...]] = {
    "W/m/K": ((re.compile(r"(\w*W) ?/ ?(\w*m)[ *.-]?K"), r"\1/\2/K"),),
    "J/kg/K": ((re.compile(r"(\w*J) ?/ ?(k?g)[ *.-]?K"), r"\1/\2/K"),),
    "m^2*K/W": ((re.compile(r"([a-zµμ]*m\^2)K/W"), r"\1*K/W"),),
    "m^3/s": ((re.compile(r"(?i)cfm"), "ft^3/min"),),
    "m": ((re.compile(r"mils?"), "thou"),),
    "degC": ((re.compile(r"C"), "degC"),),
}


def spellings(unit_text: str, symbol: str) -> Iterator[str]:
    """What a written unit may stand for where ``symbol`` is due, the likeliest first.

    "W/mK" is W/(m*K) where a conductivity is due, "CFM" cubic feet a minute where a flow is, "mil"
    a thousandth of an inch where a length is, "C" a degree Celsius where no charge can be meant.
    """
    text = _POWER.sub(r"\1^\2", unit_text)
    for pattern, meant in _OF_SYMBOL.get(symbol, ()):
        if pattern.fullmatch(text):
            yield pattern.sub(meant, text)
            return
    yield text
    if "/" in text and "K" in symbol and _BARE_CELSIUS.search(text):
        celsius = _BARE_CELSIUS.sub("degC", text)
        yield celsius
        yield from (each for each in spellings(celsius.replace("degC", "K"), symbol))


def ounces(thickness: object) -> object:
    """A thickness of copper given by its weight on a square foot, as a length; others as given."""
    match = _OUNCES.fullmatch(thickness) if isinstance(thickness, str) else None
    try:
        return f"{float(match[1]) * OUNCE_UM:.9g} um" if match else thickness
    except ValueError:
        return thickness
