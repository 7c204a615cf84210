"""One drawn unit as a lamp file of its own, which ``derate run`` runs again to the same numbers."""

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomli_w

from derate import __version__
from derate.lamp.change import changed
from derate.lamp.quantity_at import quantities_at
from derate.lamp.varying import OF_PROFILE
from derate.loop.units import unit_profile
from derate.report.spread_words import file_of

if TYPE_CHECKING:
    from derate.lamp.course import Course
    from derate.lamp.lamp import Lamp
    from derate.loop.units import Draws
    from derate.study.spread import Spread


def unit_text(study: "Spread", unit: int) -> str:
    """The lamp file of a unit that was run, with the one profile as this unit lived through it.

    What its firmware reads by is the nominal lamp's. The numbers have all their digits.
    """
    raw = unit_keys(study.lamp, study.draws, unit)
    raw["profiles"] = {study.profile_name: _profile(study, unit)}
    return _head(study, unit) + tomli_w.dumps(raw)


def unit_keys(lamp: "Lamp", draws: "Draws", unit: int) -> dict[str, Any]:
    """The tables of the lamp file of one drawn unit, its profiles those of the nominal lamp."""
    changes: dict[str, object] = {
        key: _written(lamp, key, value)
        for key, value in draws.of(unit).items()
        if key not in OF_PROFILE
    }
    for key, value in draws.exact.items():
        changes[key] = _tolerance(lamp, key, value) if isinstance(value, dict) else value
    folder = (lamp.source.parent if lamp.source else Path()).resolve()
    for name, sensor in lamp.keys.get("sensors", {}).items():
        table = sensor.get("thermistor", {}).get("table")
        if isinstance(table, str):  # a file beside the lamp file, and this one may lie elsewhere
            changes[f"sensors.{name}.thermistor.table"] = str(folder / table)
    if lamp.controller.c:
        changes["controller.c"] = [str(folder / file) for file in lamp.controller.c]
    changes["lamp.unit"] = unit
    return changed(lamp.keys, changes, lamp.name)


def _head(study: "Spread", unit: int) -> str:
    seed = f" --seed {study.seed}" if study.seed else ""
    lamp = study.lamp.source.name if study.lamp.source else study.lamp.name
    return (
        f"# Unit {unit} of {lamp}, drawn with seed {study.seed}, by derate {__version__};\n"
        "# ambient and airflow of the profile are those of this unit, and so is its noise.\n"
        "# A firmware limit is no substitute for an independent hardware cut-out; measure.\n"
        f"# Run it again: derate run {file_of(study, unit)}{seed}\n\n"
    )


def _written(lamp: "Lamp", key: str, value: float) -> object:
    """A value with its unit, such that reading it gives the very same number."""
    (found,) = quantities_at(lamp, key)
    return f"{value!r} {found.unit.symbol}" if found.unit.symbol else value


def _tolerance(lamp: "Lamp", key: str, table: dict[str, float]) -> dict[str, object]:
    return {name: _written(lamp, f"{key}.{name}", value) for name, value in table.items()}


def _profile(study: "Spread", unit: int) -> dict[str, Any]:
    """The profile as the file has it, but for what this unit's ambient and airflow were."""
    if study.profile.text:
        raw = tomllib.loads(study.profile.text.replace("\r\n", "\n"))
    else:
        raw = study.lamp.keys["profiles"][study.profile_name]
    profile = unit_profile(study.profile, study.draws, unit)
    ambient = profile.ambient
    if isinstance(ambient, dict):
        raw["ambient"] = {name: course_keys(one, " degC") for name, one in ambient.items()}
    else:
        raw["ambient"] = course_keys(ambient, " degC")
    raw["airflow"] = course_keys(profile.airflow, "")
    return raw


def course_keys(course: "Course[float]", unit: str) -> dict[str, object]:
    """A course as a table of a lamp or profile file, ``unit`` behind each value."""
    written: dict[str, object] = {
        "at": [f"{at_s!r} s" for at_s in course.at_s],
        "value": [f"{value!r}{unit}" if unit else value for value in course.knots],
        "between": course.between,
    }
    if course.every_s is not None:
        written["every"] = f"{course.every_s!r} s"
    return written
