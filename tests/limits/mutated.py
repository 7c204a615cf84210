"""The reference controller with one wrong in it, as firmware of the lamp's own."""

import shutil
from pathlib import Path
from typing import NamedTuple

from derate.firmware.build import reference_folder
from derate.lamp import Lamp
from tests.limits.lamps import late_lamp

OPEN = ("sensor open",)


class Wrong(NamedTuple):
    """What is written instead of what, in which file; the faults that bring it to light."""

    file: str
    right: str
    wrong: str
    faults: tuple[str, ...] = ()


POLICY = {
    "threshold moved": Wrong(
        "foldback.c", "used <= policy->start_centi_c", "used <= policy->start_centi_c + 900"
    ),
    "comparison turned": Wrong("derate.c", "if (target < now) {", "if (target > now) {"),
    "filter broken": Wrong(
        "derate.c", "now += (target - now) >> settings->filter_shift;", "now += 0u;"
    ),
    "fault check removed": Wrong("derate.c", "flag = table->high_flag;", "flag = 0u;", OPEN),
}
"""Wrongs of the policy and of what stands around it."""
CLASSIC = {
    "end-clamped table": Wrong(
        "derate.c",
        "} else if (code >= table->high_code) {",
        "} else if (code >= table->high_code && code > 65000u) {",
        OPEN,
    ),
    "edge-triggered flag": Wrong(
        "derate.c",
        "seen = (uint16_t)(seen | stuck(settings, state, reading));",
        "uint8_t again = seen != 0u && state->lowest_centi_c == 0;\n"
        "    state->lowest_centi_c = seen != 0u ? 0 : DERATE_NO_READING;\n"
        "    seen = again ? 0u : seen;",
        OPEN,
    ),
    "clamped open code": Wrong(
        "derate.c",
        "uint16_t seen = sense_all(settings, state, codes);",
        "uint16_t clamped = codes[0] > 3950u ? 3950u : codes[0];\n"
        "    uint16_t seen = sense_all(settings, state, &clamped);",
        OPEN,
    ),
}
"""The three that firmware is known for."""


def mutated(folder: Path, wrong: Wrong | None, **changes: object) -> Lamp:
    """The late lamp with a copy of our C in ``folder``, one thing wrong in it; None for nothing."""
    for file in reference_folder().glob("*.[ch]"):
        shutil.copy(file, folder)
    if wrong is not None:
        file = folder / wrong.file
        text = file.read_text(encoding="utf-8")
        assert text.count(wrong.right) == 1, wrong
        file.write_text(text.replace(wrong.right, wrong.wrong), encoding="utf-8")
    names = ("controller.c", "derate.c", "foldback.c")
    return late_lamp(controller__c=[str(folder / name) for name in names], **changes)
