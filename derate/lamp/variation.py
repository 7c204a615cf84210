"""What differs from unit to unit of one lamp: how far, and how it is distributed.

What [sensors.NAME.tolerance] states counts beside the tables [tolerances.NAME], drawn evenly within
its limits as in the error budget, unless a table names the same part.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from derate.lamp.notation import convert
from derate.lamp.quantities import Unit
from derate.lamp.quantity_at import Quantity, quantities_at
from derate.lamp.sensor import Sensor
from derate.lamp.sentence import Key, demand_known, shown, wrong
from derate.lamp.tolerances import Distribution, Varies
from derate.lamp.varying import parts_of, varying

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp


@dataclass(frozen=True)
class Limits:
    """One key that varies: its nominal value and its limits, in the unit of the key."""

    key: str
    nominal: float
    low: float
    high: float

    @property
    def farthest(self) -> float:
        """The larger distance of a limit from the nominal value."""
        return max(self.nominal - self.low, self.high - self.nominal)


@dataclass(frozen=True)
class Variation:
    """One draw: the keys it moves and the law it follows.

    ``group``: what it is correlated with, ``correlation`` [0..1] of the normal scores in it.
    """

    name: str
    keys: tuple[Limits, ...]
    distribution: Distribution
    sigmas: float = 3.0
    truncated: bool = True
    group: str | None = None
    correlation: float = 0.0


def variations(lamp: "Lamp") -> tuple[Variation, ...]:
    """Everything that varies from unit to unit; raises the first mistake in the tables.

    Nothing does in a lamp file that describes one unit.
    """
    if lamp.title.unit is not None:
        return ()
    stated = tuple(_stated(lamp))
    named = {limits.key for one in stated for limits in one.keys}
    of_sensors = [one for sensor in lamp.sensors for one in _of_sensor(lamp, sensor)]
    return (*stated, *(one for one in of_sensors if one.keys[0].key not in named))


def toleranced(lamp: "Lamp", sensor: str) -> Sensor:
    """A sensor whose own table of tolerances holds what tables [tolerances] state of its parts.

    Three resistors have one entry there: that of the one that lies farthest off counts.
    """
    part = lamp.sensors[sensor]
    stated = {limits.key: limits.farthest for one in _stated(lamp) for limits in one.keys}
    farthest = {}
    for field, keys in parts_of(part).items():
        own = getattr(part.tolerance, field)
        farthest[field] = max(
            (stated.get(f"sensors.{sensor}.deviation.{key}", own) for key in keys), default=own
        )
    return part.model_copy(update={"tolerance": part.tolerance.model_copy(update=farthest)})


def _of_sensor(lamp: "Lamp", sensor: str) -> Iterator[Variation]:
    part = lamp.sensors[sensor]
    for field, keys in parts_of(part).items():
        size = getattr(part.tolerance, field)
        for key in keys if size else ():
            (found,) = quantities_at(lamp, f"sensors.{sensor}.deviation.{key}")
            limits = Limits(found.key, found.value, found.value - size, found.value + size)
            yield Variation(f"sensors.{sensor}.tolerance.{key}", (limits,), "uniform")


def _stated(lamp: "Lamp") -> Iterator[Variation]:
    taken: dict[str, str] = {}
    for name, table in lamp.tolerances.items():
        key: Key = ("tolerances", name)
        if table.group is not None:
            what = "a group, a table [tolerance_groups.NAME]"
            demand_known(table.group, lamp.tolerance_groups, what, (*key, "group"))
        limits: list[Limits] = []
        for path in table.of:
            for quantity in varying(lamp, path, (*key, "of")):
                other = taken.setdefault(quantity.key, name)
                if other != name or any(one.key == quantity.key for one in limits):
                    due = f'a key named once; the table "{other}" names it'
                    raise wrong(due, found=shown(path), key=(*key, "of"))
                limits.append(_limits(table, quantity, key))
        yield Variation(
            name,
            tuple(limits),
            table.distribution,
            table.sigmas,
            table.truncated,
            table.group,
            lamp.tolerance_groups[table.group].correlation if table.group else 0.0,
        )


def _limits(table: Varies, quantity: Quantity, key: Key) -> Limits:
    name, nominal, unit = quantity
    if table.spread is not None:
        half = _half(table.spread, quantity, (*key, "spread"))
        low, high = nominal - half, nominal + half
        if table.distribution == "lognormal" and nominal > 0:
            low = nominal / (1.0 + half / nominal)
    else:
        low = nominal if table.low is None else _in_unit(table.low, unit, (*key, "low"))
        high = nominal if table.high is None else _in_unit(table.high, unit, (*key, "high"))
        if low > nominal:
            raise wrong(f"at most the nominal {quantity.text} of {name}", key=(*key, "low"))
        if high < nominal:
            raise wrong(f"at least the nominal {quantity.text} of {name}", key=(*key, "high"))
        if low == high:
            side = "low" if table.high is None else "high"
            due = f"a value other than the nominal {quantity.text} of {name}"
            raise wrong(due, key=(*key, side))
    if table.distribution == "lognormal" and low <= 0:
        due = f"another one, as not all values of {name} are above zero"
        raise wrong(due, key=(*key, "distribution"))
    return Limits(name, nominal, low, high)


def _half(spread: str | float, quantity: Quantity, key: Key) -> float:
    """The distance of the limits from the nominal value, in the unit of the key."""
    name, nominal, unit = quantity
    share = _read(spread, "")
    if unit.symbol == "" or share is None:
        half = _in_unit(spread, unit, key, also='a ratio such as "10 %", or ')
    elif nominal == 0.0:
        raise wrong(f"{unit.due}, as the nominal value of {name} is zero", key=key)
    else:
        half = share * abs(nominal)
    if not 0 < half < math.inf:
        raise wrong("a value above zero", key=key)
    return half


def _in_unit(amount: str | float, unit: Unit, key: Key, *, also: str = "") -> float:
    value = _read(amount, unit.symbol)
    if value is None:
        raise wrong((also if unit.symbol else "") + unit.due, key=key)
    return value


def _read(amount: str | float, symbol: str) -> float | None:
    """An amount as a number in the unit; None where it has another one."""
    if isinstance(amount, float):
        return amount if symbol == "" else None
    try:
        return convert(amount, symbol)
    except (ValueError, OverflowError):
        return None
