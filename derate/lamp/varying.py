"""The keys that may differ from unit to unit: quantities of parts, and the place of use."""

from typing import TYPE_CHECKING

from derate.lamp.quantities import Unit
from derate.lamp.quantity_at import Quantity, quantities_at
from derate.lamp.sensor import Sensor
from derate.lamp.sentence import Key, shown, wrong
from derate.lamp.tolerance import DEVIATIONS

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

AMBIENT = Quantity("ambient", 0.0, Unit("K", "k", 'a temperature difference such as "2 K"'))
AIRFLOW = Quantity("airflow", 1.0, Unit("", "", 'a factor such as 0.8 or "80 %"'))
OF_PROFILE = {found.key: found for found in (AMBIENT, AIRFLOW)}
"""What varies with the place a unit is used in: a shift of every ambient, a factor on airflow."""
PARTS = (
    "emitters", "channels", "board", "nodes", "links", "surfaces", "sensors", "driver", "materials"
)  # fmt: skip
"""Tables of the file that describe parts, and not what is asked of them or how they are run."""
COMPUTED = ("board.cell", "board.accuracy")
"""Keys of those tables that say how a part is computed."""
READ_BY = {
    "divider": ("resistor", "series", "parallel", "supply", "reference"),
    "thermistor": ("r25", "b_value"),
    "adc": ("offset", "gain"),
}
"""Parts of a sensor that vary by a deviation from what is printed, of which the firmware reads."""


def varying(lamp: "Lamp", path: str, key: Key) -> tuple[Quantity, ...]:
    """What a path of a table means, the special ones among them; raises unless it may vary."""
    if path in OF_PROFILE:
        return (OF_PROFILE[path],)
    try:
        _demand_part(lamp, path)
        found = quantities_at(lamp, _meant(path))
        if any(quantity.unit.symbol == "degC" for quantity in found):
            raise LookupError("a quantity of a part, while temperatures are limits and conditions")
        return found
    except LookupError as error:
        raise wrong(str(error), found=shown(path), key=key) from None


def _meant(path: str) -> str:
    """The key path behind a short one."""
    match path.split("."):
        case ["surfaces", name]:
            return f"surfaces.{name}.heat_factor"
        case ["sensors", name, table, part] if part in READ_BY.get(table, ()):
            return f"sensors.{name}.deviation.{part}"
    return path


def _demand_part(lamp: "Lamp", path: str) -> None:
    """Raises LookupError for a path that leads to anything but a part of a unit."""
    first, *rest = path.split(".")
    if first not in PARTS:
        raise LookupError(f"a key below one of {', '.join(PARTS)}, or {' or '.join(OF_PROFILE)}")
    if path in COMPUTED:
        raise LookupError("a quantity of a part, while this says how it is computed")
    match rest:
        case [_, "tolerance", *_] if first == "sensors":
            raise LookupError("a part of the sensor such as divider.resistor or thermistor.r25")
        case [_, table, *way] if first == "sensors" and table in READ_BY:
            if way[:1] not in ([part] for part in READ_BY[table]):
                due = f"{table}.{' or .'.join(READ_BY[table])}, as the firmware reads by the rest"
                raise LookupError(due)
    match rest:
        case [name, table, part] if first == "sensors" and name in lamp.sensors:
            present = [key for keys in parts_of(lamp.sensors[name]).values() for key in keys]
            if table in READ_BY and part not in present:
                raise LookupError(f"a part that sensor {name} has: {', '.join(present)}")


def parts_of(sensor: Sensor) -> dict[str, list[str]]:
    """The parts of a sensor that each field of its table of tolerances speaks of."""
    divider = sensor.divider
    absent = {
        "series": not divider.series_ohm,
        "parallel": divider.parallel_ohm is None,
        "reference": divider.reference == "ratiometric",
    }
    return {
        field: [key for key in keys if not absent.get(key.removesuffix("_drift"))]
        for field, keys in DEVIATIONS.items()
    }
