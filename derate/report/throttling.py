"""What thermal control did to the light, in words."""

from typing import TYPE_CHECKING

from derate.report.words import duration, number, percent

if TYPE_CHECKING:
    from derate.loop.run import Result


def control_sentence(result: "Result") -> str:
    """How often and how long light was held back, and the largest step it made."""
    merit = result.merit
    if merit.throttle_events == 0:
        return "light never held back"
    times = "once" if merit.throttle_events == 1 else f"{merit.throttle_events} times"
    return (
        f"light held back {times}, {duration(merit.throttled_s)} in all; largest step within a "
        f"second from {percent(merit.largest_step_from)} to {percent(merit.largest_step_to)} of "
        f"the light asked for, at {duration(merit.largest_step_at_s)}"
    )


def fault_sentence(result: "Result") -> str:
    """The sensor faults the controller saw, how often and how long; nothing when none."""
    return "; ".join(
        f"{cause} {'once' if fault.times == 1 else f'{fault.times} times'}, "
        f"{duration(fault.seconds)} in all, first at {duration(fault.first_s)}"
        for cause, fault in result.merit.faults.items()
    )


def hunting_sentence(result: "Result") -> str:
    """The limit cycle, its cause and its cure; nothing when there is none."""
    hunting = result.merit.hunting
    if hunting is None:
        return ""
    sentence = (
        f"every {duration(hunting.period_s)} from {duration(hunting.start_s)} to "
        f"{duration(hunting.end_s)}, junction swings {number(hunting.swing_k)} K, "
        f"drive limit swings {percent(hunting.swing_limit)}. "
        f"The cause is the {hunting.cause}: {hunting.explanation}."
    )
    if hunting.least_hysteresis_k is not None:
        sentence += f" Least hysteresis that stops it: {number(hunting.least_hysteresis_k)} K."
    return sentence
