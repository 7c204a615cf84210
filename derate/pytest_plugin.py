"""For pytest: a promise that breaks in a test of one's own is told, and its run gets a report.

pytest loads it by itself where derate is installed. A failing test then shows the history in which
the promise broke; with ``--derate-report DIR``, or ``derate_report`` in the configuration, the run
lies below that folder with all its figures, and the history as a mission profile to be replayed.
Nothing heavy is imported before a promise breaks.
"""

import re
import sys
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from derate.limits.broken import PromiseBrokenError

OPTION = "--derate-report"
PROFILE = "counterexample.toml"
SECTION = "a promise of the lamp is broken"


def pytest_addoption(parser: pytest.Parser) -> None:
    """The folder for reports, as an option and in the configuration."""
    about = "folder for reports of runs in which a promise of a lamp breaks"
    parser.getgroup("derate").addoption(OPTION, metavar="DIR", default=None, help=about)
    parser.addini("derate_report", about, default="")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Add what broke to the report of a failing test, and write its run."""
    report = yield
    if call.excinfo is not None and "derate.limits.broken" in sys.modules:
        lines = []
        for broken in _broken(call.excinfo.value):
            lines += list(_told(broken, item))
        if lines:
            report.sections.append((SECTION, "\n".join(lines)))
    return report


def _broken(error: BaseException) -> "Iterator[PromiseBrokenError]":
    """The broken promises in an error, which may hold several."""
    from derate.limits.broken import PromiseBrokenError

    if isinstance(error, PromiseBrokenError):
        yield error
    for one in getattr(error, "exceptions", ()):
        yield from _broken(one)


def _told(broken: "PromiseBrokenError", item: pytest.Item) -> Iterator[str]:
    yield broken.sentence
    folder = item.config.getoption(OPTION) or item.config.getini("derate_report")
    if folder and broken.profile is not None:
        where = item.config.rootpath / folder / _name(item.nodeid)
        try:
            yield from _written(broken, where)
        except Exception as error:  # the test has failed anyhow, and must be told of
            yield f"its run has no report: {error}"


def _written(broken: "PromiseBrokenError", folder: Path) -> Iterator[str]:
    """Write the run of a broken promise, and say where."""
    import tomli_w

    from derate.report.files import write
    from derate.report.folder import place

    result = broken.replayed()
    if result is None or broken.profile is None:
        return
    write(result, folder)
    if broken.keys:
        place(folder / PROFILE, tomli_w.dumps(broken.keys).encode())
    yield f"its run: {folder / 'report.html'}"
    if broken.keys:
        lamp = broken.lamp.source or "LAMP"
        yield f"again: derate run {lamp} --profile {folder / PROFILE}"


def _name(nodeid: str) -> str:
    """A folder's name for a test."""
    return re.sub(r"[^\w.-]+", "_", nodeid).strip("_")[-120:]
