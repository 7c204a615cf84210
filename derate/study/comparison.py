"""Two lamps side by side at the same point, and what their parts cost."""

from dataclasses import dataclass

import numpy as np

from derate.lamp.lamp import Lamp
from derate.study.derating import light_lm, permitted
from derate.study.operating import Operating


@dataclass(frozen=True)
class Cost:
    """Sum of the prices of the parts that have one; ``parts``: key in the lamp file -> its share.

    ``unpriced``: keys of parts without a price; ``currency``: a label.
    """

    total: float
    currency: str
    parts: dict[str, float]
    unpriced: tuple[str, ...]


@dataclass(frozen=True)
class Side:
    """One lamp of a comparison; nan in a runaway, ``cost`` None where nothing has a price."""

    name: str
    light_lm: float
    supply_w: float
    efficacy_lm_per_w: float
    limiting: str
    margin_k: float
    permitted: float
    permitted_lm: float
    cost: Cost | None
    runaway: bool


@dataclass(frozen=True)
class Comparison:
    """The lamp of the study and the one it is held against."""

    this: Side
    other: Side


def cost_of(lamp: Lamp) -> Cost | None:
    """What the parts of a lamp cost, emitters counted each; None where nothing has a price."""
    emitters = dict.fromkeys(lamp.emitters, 0)
    for channel in lamp.channels.values():
        emitters[channel.emitter] += channel.series * channel.parallel
    pieces = [(f"emitters.{name}", n, lamp.emitters[name].price) for name, n in emitters.items()]
    pieces += [("board", 1, lamp.board.price)] if lamp.board else []
    pieces += [(f"surfaces.{name}", 1, part.price) for name, part in lamp.surfaces.items()]
    pieces += [(f"sensors.{name}", 1, part.price) for name, part in lamp.sensors.items()]
    pieces += [("driver", 1, lamp.driver.price)]
    priced = {key: count * price for key, count, price in pieces if price is not None}
    if not priced:
        return None
    missing = tuple(key for key, count, price in pieces if price is None and count)
    return Cost(sum(priced.values()), lamp.title.currency, priced, missing)


def side_of(lamp: Operating, share: float, ambient_c: float) -> Side:
    """One lamp at ``share`` of its command and ``ambient_c`` [degC]."""
    rest = lamp.at(share, ambient_c)
    margin_k, node = lamp.nearest(rest)
    light, supply_w = float(rest.light_lm.sum()), float(rest.supply_w.sum())
    most, _ = permitted(lamp, ambient_c)
    return Side(
        lamp.lamp.name,
        light,
        supply_w,
        light / supply_w if supply_w > 0.0 else np.nan,
        lamp.names[node] if node >= 0 else "",
        margin_k if node >= 0 else np.nan,
        most,
        light_lm(lamp, most, ambient_c),
        cost_of(lamp.lamp),
        rest.runaway,
    )
