"""What the independent cut-outs did in a run, in words."""

from typing import TYPE_CHECKING

from derate.report.words import duration, number

if TYPE_CHECKING:
    from derate.loop.cutout import CutoutMerit


def cutout_sentence(merit: "CutoutMerit") -> str:
    """When it opened and for how long, or how far below its trip temperature it stayed."""
    if merit.first_s is None:
        below = "below" if merit.margin_k >= 0 else "above"
        return (
            f"stays closed: at most {number(merit.peak_c)} degC, {number(abs(merit.margin_k))} K "
            f"{below} the {number(merit.least_trip_c)} degC from which one of its kind may open"
        )
    times = "once" if merit.times == 1 else f"{merit.times} times"
    return (
        f"opened {times}, first at {duration(merit.first_s)}; open for {duration(merit.open_s)} "
        f"in all; at most {number(merit.peak_c)} degC"
    )
