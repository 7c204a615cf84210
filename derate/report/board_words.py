"""How the line to a real board did, in a sentence."""

from typing import TYPE_CHECKING

from derate.report.words import duration

if TYPE_CHECKING:
    from derate.firmware.board import Talk

MOST_TIMES = 3
"""So many times of resets or of pulled plugs are told one by one."""


def board_sentence(talk: "Talk") -> str:
    """Steps, and what went wrong on the way: frames sent again, bytes lost, resets."""
    said = [f"{talk.steps} steps, {talk.pace}"]
    said.append(f"{talk.repeats} frames sent again" if talk.repeats else "every answer at once")
    if talk.spoilt_bytes:
        said.append(f"{talk.spoilt_bytes} bytes came that were no frame")
    if talk.late:
        said.append(f"{talk.late} steps began late")
    if talk.unplugged_s:
        said.append(f"port gone {_times(talk.unplugged_s)}")
    if talk.resets_s:
        said.append(f"reset {_times(talk.resets_s)}, its controller beginning afresh")
    return ", ".join(said)


def _times(times_s: list[float]) -> str:
    """How often and when."""
    listed = ", ".join(duration(time_s) for time_s in times_s[:MOST_TIMES])
    more = ", ..." if len(times_s) > MOST_TIMES else ""
    return f"{'once' if len(times_s) == 1 else f'{len(times_s)} times'} (at {listed}{more})"
