"""What a tuning leaves behind: page and figures, the header for the C, the lamp file itself."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit

from derate.errors import InputError
from derate.firmware.header import settings_header
from derate.report.figures import drawn
from derate.report.folder import place, place_all
from derate.report.tune_figures import kinds_of
from derate.report.tune_page import page
from derate.report.tune_summary import to_json
from derate.report.tune_words import warnings
from derate.report.words import encoded

if TYPE_CHECKING:
    from derate.study.tune import Tuning


def write(
    tuning: "Tuning", folder: Path | None, header: Path | None, *, into: bool
) -> Iterator[str]:
    """Write page and figures to ``folder``, the C's settings to ``header``, and the lamp file.

    Each only where it is asked for, the last two only for settings that were found and checked.
    Says sentence by sentence what was written and what not. Raises InputError where a lamp file
    has changed meanwhile.
    """
    yield from (f"warning: {one}" for one in warnings(tuning))
    firmware, lamp = tuning.firmware, tuning.lamp
    if tuning.interrupted:
        yield "stopped before its time: what follows is the best so far, and not checked"
    if folder is not None:
        written = place_all(folder, _contents(tuning))
        yield f"wrote {len(written)} files to {folder}, tune.html among them"
    if not (into or header):
        return
    if firmware is None or tuning.interrupted or not tuning.holds:
        yield "wrote no settings, since none were found that hold"
        return
    if into and lamp.source is not None and tuning.chosen is not None:
        text = lamp.source.read_bytes().decode("utf-8-sig")
        if text != lamp.text:
            raise InputError(f"{lamp.source}: found changed during the search, and left as it is")
        place(lamp.source.resolve(), changed_text(text, dict(tuning.chosen.settings)).encode())
        yield f"put the settings into {lamp.source}"
    if header is not None:
        place(header, encoded(settings_header(firmware)))
        yield f"wrote {header}"


def changed_text(text: str, settings: Mapping[str, str | int]) -> str:
    """The text of a lamp file with other values at some key paths; all else stays as it stands."""
    document = tomlkit.parse(text)
    for path, said in settings.items():
        *way, last = path.split(".")
        part: Any = document
        for step in way:
            part = part[int(step) if step.isdigit() else step]
        if part.get(last) != said:
            part[last] = said
    return tomlkit.dumps(document)


def _contents(tuning: "Tuning") -> Iterator[tuple[str, bytes]]:
    """Name and bytes of each file, made one after the other."""
    yield "summary.json", encoded(to_json(tuning))
    drawings = yield from drawn(kinds_of(tuning), tuning)
    yield "tune.html", encoded(page(tuning, drawings))
