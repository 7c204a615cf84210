"""Every figure of a tuning, with the words that belong to it."""

from typing import TYPE_CHECKING

from derate.report.kind import Kind
from derate.report.tune_moved import moved_figure
from derate.report.tune_trade import front_words, trade_figure
from derate.report.tune_words import reason, verdict

if TYPE_CHECKING:
    from derate.study.tune import Tuning

TRADE: Kind["Tuning"] = Kind(
    "trade",
    "What margin and unseen steps cost in light",
    trade_figure,
    lambda tuning: (
        f"Light against margin and against steps: {front_words(tuning.margins)}. {verdict(tuning)}"
    ),
    "Every dot is a setting that was run on all units through all profiles. Along the blue line "
    "no other gives more of both. Above: to the right lies more margin; where the line falls "
    "steeply, margin is dear. Below: to the left lies what nobody sees; only settings that keep "
    "the guard, and were looked at closer, are drawn.",
)
MOVED: Kind["Tuning"] = Kind(
    "moved",
    "How much hangs on each setting",
    moved_figure,
    lambda tuning: f"Light and margin as each setting is moved. {reason(tuning)}",
    "One setting at a time is moved to both sides, all others as recommended. A flat line is good: "
    "the setting need not be exact, and parts that differ do not matter. Beneath the dashed line "
    "the margin is less than asked for.",
)


def kinds_of(tuning: "Tuning") -> tuple[Kind["Tuning"], ...]:
    """The figures there is something to show in."""
    return (TRADE, MOVED) if tuning.swings else (TRADE,)
