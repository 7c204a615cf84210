"""Units at the limits of their tolerances: each must be a lamp that can be."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from derate.errors import InputError
from derate.lamp.change import changed
from derate.lamp.lamp import Lamp
from derate.lamp.quantities import Source
from derate.lamp.sentence import Mistake, mistakes, shown, written
from derate.lamp.tolerances import EXACT
from derate.lamp.variation import Variation, variations
from derate.lamp.varying import AIRFLOW, AMBIENT, OF_PROFILE

SIDES = ("low", "high")


def check_extremes(lamp: Lamp, raw: Mapping[str, Any], title: str) -> None:
    """Raises InputError about the file ``title``, parsed ``raw``, for a limit that cannot be.

    All draws at their lower limits at once must give a lamp, and all at their upper ones; where
    they do not, the draws are tried one by one. What only some others spoil is told when drawn.
    """
    stated = [one for one in variations(lamp) if one.name in lamp.tolerances]
    for side in SIDES if stated else ():
        for one in stated:
            for found, due in _amiss_in_profiles(lamp, one, side):
                raise InputError(_mistake(lamp, one, side, found, due).sentence(title))
        if _amiss(lamp, raw, stated, side) is None:
            continue
        for one in stated:
            amiss = _amiss(lamp, raw, [one], side)
            if amiss is not None:
                found = f"{written(amiss.key)} {amiss.found}"
                raise InputError(_mistake(lamp, one, side, found, amiss.due).sentence(title))


def _amiss(
    lamp: Lamp, raw: Mapping[str, Any], some: Iterable[Variation], side: str
) -> Mistake | None:
    """The first mistake in a unit with ``some`` of its draws at this side's limits."""
    values = {
        limits.key: float(f"{getattr(limits, side):.9g}")  # as somebody would write it
        for one in some
        for limits in one.keys
        if limits.key not in OF_PROFILE
    }
    unit = changed(raw, EXACT | values, lamp.name)
    folder = lamp.source.parent if lamp.source else None
    try:
        Lamp.model_validate(unit, context=Source(folder, numbers=True))
    except ValidationError as error:
        return mistakes(error, unit)[0]
    return None


def _amiss_in_profiles(lamp: Lamp, one: Variation, side: str) -> Iterator[tuple[str, str]]:
    """What a limit makes of the profiles, and what is due there, where that cannot be."""
    found_c = [at_c for profile in lamp.profiles.values() for at_c in profile.ambients_c]
    for limits in one.keys:
        value = getattr(limits, side)
        if limits.key == AIRFLOW.key and value <= 0:
            yield f"a factor of {value:g}", "factors above zero"
        for at_c in found_c if limits.key == AMBIENT.key else ():
            for name, sensor in lamp.sensors.items():
                low_c, high_c = sensor.thermistor.range_c
                if not low_c <= at_c + value <= high_c:
                    due = f'what sensor "{name}" can read, {low_c:g} to {high_c:g} degC'
                    yield f"an ambient of {at_c + value:g} degC", due


def _mistake(lamp: Lamp, one: Variation, side: str, found: str, due: str) -> Mistake:
    """A mistake in a table, at one of whose limits something is ``found``."""
    table = lamp.tolerances[one.name]
    key = "spread" if table.spread is not None else side
    return Mistake(
        ("tolerances", one.name, key),
        f"{shown(getattr(table, key))}, which gives {found} at the {side} end",
        due,
    )
