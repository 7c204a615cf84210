"""Two lamps side by side, and what the parts of a lamp cost."""

from typing import TYPE_CHECKING

from derate.report.point_words import limited, whole_percent
from derate.report.words import figures, number

if TYPE_CHECKING:
    from derate.study.comparison import Comparison, Cost, Side


def comparison_rows(comparison: "Comparison") -> list[tuple[str, str, str]]:
    """Quantity, this lamp, the other; a row nobody has a figure for is left out."""
    this, other = _figures(comparison.this), _figures(comparison.other)
    return [
        (name, this[name], other[name]) for name in this if (this[name], other[name]) != ("-", "-")
    ]


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
    margin = "runs away" if side.runaway else f"{number(side.margin_k)} K"
    cost = side.cost
    return {
        "light here": f"{number(side.light_lm, 0)} lm",
        "power drawn": f"{figures(side.supply_w)} W",
        "light per watt": f"{number(side.efficacy_lm_per_w, 0)} lm/W",
        "nearest to limit": limited(side.limiting) if side.limiting else "-",
        "left to limit": margin,
        "permitted here": f"{whole_percent(side.permitted)}, {number(side.permitted_lm, 0)} lm",
        "cost": money(cost.total, cost.currency) if cost else "-",
        "light per cost": _per_cost(side),
    }


def _per_cost(side: "Side") -> str:
    """Permitted light for a unit of money."""
    if side.cost is None or not side.cost.total > 0:
        return "-"
    label = f"lm/{side.cost.currency}" if side.cost.currency else "lm for each unit of cost"
    return f"{figures(side.permitted_lm / side.cost.total)} {label}"
