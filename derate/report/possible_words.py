"""A run beside the possible: one sentence, and a few numbers for machines."""

from typing import TYPE_CHECKING, Any

from derate.report.words import figures, percent

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.study.possible import Possible

SECONDS_PER_HOUR = 3600.0


def possible_sentence(result: "Result", possible: "Possible") -> str:
    """What share of the possible a run delivered, and how near the possible is known."""
    if possible.unheld is not None:
        return possible.unheld
    beyond = "" if result.merit.held else "; this one passed a limit, which counts as not possible"
    return (
        f"{percent(possible.share_of(result))} of the {figures(possible.light_lm_h, 4)} lm h that "
        "no controller can surpass with every limit held; a plan that knows the future gives "
        f"{percent(1.0 - possible.looseness)} of them{beyond}"
    )


def possible_numbers(result: "Result", possible: "Possible") -> dict[str, Any]:
    """The same for machines; None where there is no number."""
    return {
        "light_lm_h": possible.light_lm_h,
        "share": possible.share_of(result),
        "looseness": possible.looseness,
        "plan_lm_h": {
            name: float(light) / SECONDS_PER_HOUR
            for name, light in zip(possible.channels, possible.plan_lm_s, strict=True)
        },
        "unheld": possible.unheld,
    }
