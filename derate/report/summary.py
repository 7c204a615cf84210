"""The machine's view of a result: one JSON document without NaN."""

import dataclasses
from typing import TYPE_CHECKING, Any

from derate.report.colour_words import colour_numbers, colour_of
from derate.report.document import json_text, plain
from derate.report.possible_words import possible_numbers
from derate.report.sharing import sharing_numbers
from derate.report.verdict import verdict
from derate.report.worst_memory import cited

if TYPE_CHECKING:
    from derate.loop.run import Result
    from derate.study.possible import Possible


def summary(result: "Result", possible: "Possible | None" = None) -> dict[str, Any]:
    """Everything but the trace, keys with unit suffixes; None where there is no number.

    ``possible`` only where it was asked for, ``colour`` where the lamp file tells it, ``board``
    where a real one ran the controller.
    """
    merit, colour = dataclasses.asdict(result.merit), colour_of(result)
    document = {
        "program": "derate",
        "lamp": result.lamp.name,
        "profile": result.profile_name,
        "duration_s": float(result.trace["time_s"][-1]),
        "held": merit.pop("held"),
        "verdict": verdict(result),
        **merit,
        **({} if possible is None else {"possible": possible_numbers(result, possible)}),
        **({} if colour is None else {"colour": colour_numbers(colour)}),
        **({} if result.talk is None else {"board": dataclasses.asdict(result.talk)}),
        "sharing": sharing_numbers(result.lamp),
        "bound": cited(result.lamp),
        "happenings": [dataclasses.asdict(happening) for happening in result.happenings],
        "provenance": dict(result.provenance),
    }
    cleaned: dict[str, Any] = plain(document)
    return cleaned


def to_json(result: "Result", possible: "Possible | None" = None) -> str:
    """The summary as JSON text, one line feed at its end."""
    return json_text(summary(result, possible))
