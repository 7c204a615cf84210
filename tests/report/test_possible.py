"""A run beside the possible, on the terminal, in the summary and on the page."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest

from derate.report import files
from derate.report.possible import possible_figure, possible_kind
from derate.report.printing import COLUMNS
from derate.report.summary import to_json
from derate.report.terminal import print_result
from derate.study.possible import Possible
from tests.report.invented import DURATION_S

HOUR_S = 3600.0
SLOTS = 24
ROUNDING = 1e-9
"""Relative: sums of the same numbers in another order."""


@pytest.fixture
def possible(held):
    """A bound a quarter above the light of the invented run, and a plan two percent below it."""
    light_lm_s = 1.25 * sum(one.light_lm_h for one in held.merit.channels.values()) * HOUR_S
    return Possible(
        channels=("low_beam", "high_beam"),
        of=("low_beam", "high_beam"),
        node_names=("housing",),
        light_lm_s=light_lm_s,
        edge_s=np.linspace(0.0, DURATION_S, SLOTS + 1),
        duty=np.ones((SLOTS, 2)),
        plan_lm_s=0.98 * light_lm_s * np.array([0.6, 0.4]),
        plan_lm=np.full(SLOTS, 0.98 * light_lm_s / DURATION_S),
        node_c=np.full((SLOTS + 1, 1), 40.0),
    )


def printed(result, possible):
    """What is printed, its words with one space between them."""
    out = io.StringIO()
    print_result(result, out, possible)
    assert max(len(line) for line in out.getvalue().split("\n")) <= COLUMNS
    return " ".join(out.getvalue().split())


def test_the_share_is_told(held, possible):
    """One line says the share, the bound and how near the plan comes; only where asked for."""
    told = "possible 80.0 % of the 1600 lm h that no controller can surpass with every limit held; "
    told += "a plan that knows the future gives 98.0 % of them"
    assert told in printed(held, possible)
    assert "possible" not in printed(held, None)


def test_a_run_that_passed_a_limit_is_told_apart(exceeded, possible):
    """Light got by passing a limit is not held against the bound without a word."""
    assert "this one passed a limit, which counts as not possible" in printed(exceeded, possible)


def test_the_summary_has_it_where_asked_for(held, possible):
    """Machines get bound, share, looseness and the plan's light of each channel."""
    found = json.loads(to_json(held, possible))["possible"]
    assert found["share"] == pytest.approx(0.8)
    assert found["looseness"] == pytest.approx(0.02)
    assert list(found["plan_lm_h"]) == ["low_beam", "high_beam"]
    assert found["unheld"] is None
    assert "possible" not in json.loads(to_json(held))


def test_the_figure_ends_at_the_difference(held, possible):
    """The strip beneath ends at the plan's light less the light of the trace."""
    figure = possible_figure(held, possible)
    behind = max(figure.axes[1].lines, key=lambda line: len(line.get_ydata())).get_ydata()[-1]
    trace = held.trace
    delivered = float(trace["light_lm"][:-1] @ np.diff(trace["time_s"])) / HOUR_S
    planned = float(possible.plan_lm_s.sum()) / HOUR_S
    assert behind == pytest.approx(planned - delivered, abs=ROUNDING * planned)


def test_the_page_shows_it_where_asked_for(held, possible, tmp_path):
    """The figure is written beside the others and stands on the page with the sentence."""
    kind = possible_kind(possible)
    written = {path.name for path in files.write(held, tmp_path, possible=possible)}
    assert {"possible.svg", "possible.png"} <= written
    page = (tmp_path / "report.html").read_text()
    assert page.count("Beside the possible") == 1
    assert kind.caption[:40] in page
    other = tmp_path / "other"
    assert "possible.svg" not in {path.name for path in files.write(held, other)}
    assert "Beside the possible" not in (other / "report.html").read_text()


def test_what_nobody_can_hold_is_told_without_a_figure(held, possible, tmp_path):
    """Where no controller can hold the limits the reason stands instead of numbers."""
    reason = "no controller can hold the limits: housing reaches 71.0 degC"
    beyond = replace(possible, light_lm_s=float("nan"), unheld=reason)
    assert f"possible {reason}" in printed(held, beyond)
    assert json.loads(to_json(held, beyond))["possible"]["light_lm_h"] is None
    written = {path.name for path in files.write(held, tmp_path, possible=beyond)}
    assert "possible.svg" not in written
    assert reason[3:40] in (tmp_path / "report.html").read_text()
