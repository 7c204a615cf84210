"""Two lamps side by side, and what the parts of a lamp cost."""

from typing import TYPE_CHECKING

from derate.report.point_words import limited, whole_percent
from derate.report.words import figures, number

if TYPE_CHECKING:
    from derate.study.comparison import Comparison, Cost, Side
    from derate.study.point import PointStudy


def comparison_rows(comparison: "Comparison") -> list[tuple[str, str, str]]:
    """Quantity, this lamp, the other; a row nobody has a figure for is left out."""
    this, other = _figures(comparison.this), _figures(comparison.other)
    return [
        (name, this[name], other[name]) for name in this if (this[name], other[name]) != ("-", "-")
    ]


def names_of_sides(study: "PointStudy") -> tuple[str, str]:
    """What the two lamps are called; by their files where they have one name."""
    assert study.comparison is not None
    names = study.comparison.this.name, study.comparison.other.name
    if names[0] != names[1]:
        return names
    return study.source.get("lamp_file", names[0]), study.source.get("against", names[1])


def cost_words(cost: "Cost") -> str:
    """What the priced parts cost together, the dearest first."""
    parts = sorted(cost.parts.items(), key=lambda part: part[1], reverse=True)
    words = f"{money(cost.total, cost.currency)} for {', '.join(f'{n} {p:.2f}' for n, p in parts)}"
    if cost.unpriced:
        words += f"; without a price: {', '.join(cost.unpriced)}"
    return words


def money(amount: float, currency: str) -> str:
    """An amount with its label, if it has one."""
    return f"{amount:.2f} {currency}".strip()


def _figures(side: "Side") -> dict[str, str]:
    margin = "no rest" if side.runaway else _with_unit(number(side.margin_k), "K")
    cost = side.cost
    return {
        "light here": _with_unit(number(side.light_lm, 0), "lm"),
        "power drawn": _with_unit(figures(side.supply_w), "W"),
        "light per watt": _with_unit(number(side.efficacy_lm_per_w, 0), "lm/W"),
        "nearest to limit": limited(side.limiting) if side.limiting else "-",
        "left to limit": margin,
        "permitted here": f"{whole_percent(side.permitted)}, {number(side.permitted_lm, 0)} lm",
        "cost": money(cost.total, cost.currency) if cost else "-",
        "light per cost": _per_cost(side),
    }


def _with_unit(words: str, unit: str) -> str:
    return words if words == "-" else f"{words} {unit}"


def _per_cost(side: "Side") -> str:
    """Permitted light for a unit of money."""
    if side.cost is None or not side.cost.total > 0:
        return "-"
    label = f"lm/{side.cost.currency}" if side.cost.currency else "lm for each unit of cost"
    return f"{figures(side.permitted_lm / side.cost.total)} {label}"
