"""The colour of a run's mix: one sentence, and a few numbers for machines."""

from typing import TYPE_CHECKING, Any

from derate.plant.tristimulus import JUST_NOTICED
from derate.report.words import duration, number
from derate.study.colour import ColourCourse, colour_course

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.study.white import White

DIGITS = 4
"""Decimals of a chromaticity u', v' that mean something to anybody."""


def colour_of(result: "Result") -> ColourCourse | None:
    """The colour of a run's mix; None where the lamp file does not tell the colours."""
    return colour_course(result.lamp, result.trace)


def white_words(white: "White | None") -> str:
    """A white as people name it: "4012 K, Duv -0.0021"; "no white" where it is none."""
    return "no white" if white is None else f"{white.cct_k:.0f} K, Duv {white.duv:+.{DIGITS}f}"


def colour_sentence(course: ColourCourse) -> str:
    """How far the mix goes from what was asked, when, and how far on the mean."""
    told = (
        f"mix off by up to {number(course.largest, DIGITS)} in u'v' (at "
        f"{duration(course.largest_s)}), {number(course.mean, DIGITS)} on the mean"
    )
    if course.white is not None and course.asked_white is not None:
        told += f"; {white_words(course.white)} instead of {white_words(course.asked_white)}"
    times = course.largest / JUST_NOTICED
    seen = "less than" if times < 1.0 else f"{times:.0f} times"
    return f"{told}; {seen} what is just noticed, {JUST_NOTICED:g} (common practice)"


def colour_numbers(course: ColourCourse) -> dict[str, Any]:
    """The same for machines; None where there is no white."""
    return {
        "largest_delta_uv": course.largest,
        "largest_at_s": course.largest_s,
        "mean_delta_uv": course.mean,
        "judged_s": course.judged_s,
        "just_noticed_delta_uv": JUST_NOTICED,
        "at_largest": {
            "asked_uv": course.asked_uv[course.at],
            "uv": course.uv[course.at],
            "asked_white": white_numbers(course.asked_white),
            "white": white_numbers(course.white),
        },
    }


def white_numbers(white: "White | None") -> dict[str, float] | None:
    """A white for machines."""
    return None if white is None else white._asdict()
