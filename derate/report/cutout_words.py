"""The independent cut-outs in words: what they are, and what they did in a run."""

from typing import TYPE_CHECKING

from derate.report.words import duration, number

if TYPE_CHECKING:
    from derate.lamp.cutout import Cutout
    from derate.loop.cutout import CutoutMerit


def cutout_line(cutout: "Cutout") -> str:
    """What a cut-out is, in a line."""
    opens = ", ".join(cutout.opens) or "every channel"
    trip = _within(cutout.trip_c, cutout.tolerance_k)
    told = f"{cutout.kind}, at {cutout.at}, opens {opens} at {trip}"
    if cutout.reset_c is not None:
        told += f", closes at {_within(cutout.reset_c, cutout.reset_tolerance_k)}"
    return told + (f", lags by {duration(cutout.lag_s)}" if cutout.lag_s else "")


def _within(at_c: float, tolerance_k: float) -> str:
    return (
        f"{at_c - tolerance_k:g} to {at_c + tolerance_k:g} degC"
        if tolerance_k
        else f"{at_c:g} degC"
    )


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
