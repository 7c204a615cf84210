"""What a bound leaves behind: page, figures, summary, and the histories to be run again."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import tomli_w

from derate.report.figures import drawn
from derate.report.folder import place_all
from derate.report.spread_worst import course_keys
from derate.report.words import encoded
from derate.report.worst_figures import kinds_of
from derate.report.worst_page import page
from derate.report.worst_summary import to_json
from derate.report.worst_words import history_words

if TYPE_CHECKING:
    from derate.limits.worst.study import PlaceBound, Worst


def write(study: "Worst", folder: Path) -> tuple[Path, ...]:
    """Write all of the files whole, or none; returns their paths."""
    return place_all(folder, _contents(study))


def _contents(study: "Worst") -> Iterator[tuple[str, bytes]]:
    yield "summary.json", encoded(to_json(study))
    for place in study.units[0].places:
        if place.replay is not None:
            yield f"{place.name}.toml", encoded(profile_text(study, place))
    drawings = yield from drawn(kinds_of(study), study)
    yield "worst.html", encoded(page(study, drawings))


def profile_text(study: "Worst", place: "PlaceBound") -> str:
    """The history of a place as a profile file."""
    assert place.replay is not None  # asked for replayed places only
    history = place.replay.history
    ambient = history.ambient
    courses = ambient if isinstance(ambient, dict) else {"": ambient}
    airs = {name: f"{course.knots[0]!r} degC" for name, course in courses.items()}
    table: dict[str, object] = {
        "about": history.about,
        "duration": f"{history.duration_s!r} s",
        "ambient": airs if isinstance(ambient, dict) else airs[""],
        "airflow": course_keys(history.airflow, ""),
        "request": {name: course_keys(course, "") for name, course in history.request.items()},
    }
    lamp = study.lamp.source.name if study.lamp.source else study.lamp.name
    unit = study.units[0].name
    whose = "" if unit == "as described" else f"# The unit that it was replayed on is the {unit}.\n"
    return (
        f"# What a bound on {lamp} fears: {history_words(study, place)}.\n{whose}"
        "# A firmware limit is no substitute for an independent hardware cut-out; measure.\n\n"
        + tomli_w.dumps(table)
    )
