"""Readers of what is typed on the command line: numbers, quantities, names, words of a few.

Each raises argparse.ArgumentTypeError with what was found and what is due.
"""

import argparse
import difflib
import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

MOST_SIGNS = 60
"""Of what was typed, as many signs are repeated in a complaint."""


def names(text: str) -> tuple[str, ...]:
    """Names with commas between them."""
    found = tuple(part.strip() for part in text.split(","))
    if not all(found):
        due = "names with commas between them, such as floor,hold, are due"
        raise argparse.ArgumentTypeError(f'found "{short(text)}", {due}')
    return found


def ratio(due: str, *, most: float = math.inf) -> Callable[[str], float]:
    """A reader of a ratio from 0 to ``most``, a plain number or a percentage."""

    def read(text: str) -> float:
        from derate.lamp.quantities import convert

        try:
            value = float(text) if text.isascii() and "_" not in text else math.nan
        except ValueError:
            value = math.nan
        if math.isnan(value):
            try:
                value = convert(text, "")
            except ValueError:
                raise argparse.ArgumentTypeError(f'found "{short(text)}", {due} is due') from None
        if not 0.0 <= value <= most or math.isinf(value):
            raise argparse.ArgumentTypeError(f'found "{short(text)}", {due} is due')
        return value

    return read


def requests(text: str) -> float | dict[str, float]:
    """One share for all channels, or CHANNEL=SHARE for each, with commas between them."""
    share = ratio('a share such as "80 %"', most=1.0)
    if "=" not in text:
        return share(text)
    found: dict[str, float] = {}
    for part in text.split(","):
        name, sign, of_it = (piece.strip() for piece in part.partition("="))
        if not (name and sign and of_it):
            due = 'CHANNEL=SHARE such as "red=40 %" is due'
            raise argparse.ArgumentTypeError(f'found "{short(part.strip())}", {due}')
        if name in found:
            due = "one share for each channel is due"
            raise argparse.ArgumentTypeError(f'found "{short(name)}" twice, {due}')
        found[name] = share(of_it)
    return found


def one_of(known: Sequence[str]) -> Callable[[str], str]:
    """A reader of one of a few words from the command line."""

    def read(text: str) -> str:
        if text not in known:
            due = f"one of {', '.join(known)} is due{near(text, known)}"
            raise argparse.ArgumentTypeError(f'found "{short(text)}", {due}')
        return text

    return read


def quantity(
    unit: str, due: str, *, least: float = -math.inf, above: float = -math.inf
) -> Callable[[str], float]:
    """A reader of quantities of one unit from the command line."""

    def read(text: str) -> float:
        from derate.lamp.quantities import convert

        try:
            value = convert(text, unit)
        except ValueError:
            raise argparse.ArgumentTypeError(f'found "{short(text)}", {due} is due') from None
        if value <= above or value < least:
            bound = f"above {above:g}" if value <= above else f"of at least {least:g}"
            raise argparse.ArgumentTypeError(f'found "{short(text)}", one {bound} {unit} is due')
        return value

    return read


def whole(low: int, high: int) -> Callable[[str], int]:
    """A reader of whole numbers from the command line."""

    def read(text: str) -> int:
        digits = text.isascii() and text.isdigit() and len(text) <= MOST_SIGNS
        if not (digits and low <= int(text) <= high):
            due = f"a whole number from {low} to {high}"
            raise argparse.ArgumentTypeError(f'found "{short(text)}", {due} is due')
        return int(text)

    return read


def name(text: str) -> str:
    """A name from the command line."""
    if not text:
        raise argparse.ArgumentTypeError('found "", a name is due')
    return text


def path(text: str) -> Path:
    """A path from the command line."""
    return Path(name(text))


def short(text: str) -> str:
    """What was typed, cut where it is long."""
    return text if len(text) <= MOST_SIGNS else text[: MOST_SIGNS - 3] + "..."


def near(found: str, known: Iterable[str]) -> str:
    """The known word that is nearest to what was found, as the end of a sentence."""
    close = difflib.get_close_matches(found, list(known), n=1, cutoff=0.5)
    return f', nearest is "{close[0]}"' if close else ""
