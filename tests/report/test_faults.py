"""The fault matrix told: verdict, cells, cut-out, early detection; terminal, JSON and page."""

import io
import json

import pytest

from derate.report.faults_beside import cutout_facts, early_facts
from derate.report.faults_figures import kinds_of
from derate.report.faults_matrix import BEYOND, GOOD, PASSED, SAVED, colour_of
from derate.report.faults_page import page
from derate.report.faults_summary import to_json
from derate.report.faults_terminal import print_study
from derate.report.faults_words import verdict, why_words
from tests.report.invented_faults import OPEN, SINK, STUCK, Row, Saved, cell, invented_faults

COLUMNS = 80


@pytest.fixture(scope="module")
def held():
    """A study in which control does what it ought to."""
    return invented_faults()


@pytest.fixture(scope="module")
def failed():
    """One in which an open thermistor leads to too much."""
    return invented_faults(fails=True)


def test_the_verdict_tells_what_control_ought_to_hold(held, failed):
    """A fault beyond control is no failure of it, and is named all the same."""
    assert held.held
    assert verdict(held) == (
        "Held: wherever thermal control ought to, it holds every limit. Beyond any thermal control:"
        " spot stuck on."
    )
    assert not failed.held
    assert verdict(failed).startswith(
        "Exceeded where thermal control ought to hold: thermistor open (foldback, while off)."
    )


def test_a_failed_row_says_whose_task_it_is(held, failed):
    """Control's or hardware's, and what the cut-out leaves."""
    stuck, opened = why_words(held.rows[2], held), why_words(failed.rows[1], failed)
    assert "thermal control cannot save it (the driver no longer obeys)" in stuck
    assert "the cut-out holds those of all junctions, but not all limits: sink at most" in stuck
    assert opened.startswith("foldback, while off: sink up to 77.0 degC, 12.0 K above its limit;")
    assert "this lamp has no cut-out" in why_words(invented_faults(cutout=False).rows[2], held)


def test_a_cut_out_is_told_by_both_checks(held):
    """Service, alone place by place, and the trip temperatures that would do."""
    facts = dict(cutout_facts(held))
    assert facts["cut-out switch"].startswith("never opens in service: at most 70.0 degC")
    assert "sink passes its limit though the cut-out opens: 74.0 of 65 degC" in facts["alone"]
    assert "junction of spot at most 112.0 of 120 degC" in facts["alone"]
    assert facts["trip"] == (
        "closed in service from 72.0 degC on, enough alone up to 60.0 degC: none meets both; for "
        "the junctions alone it is enough up to 81.0 degC"
    )
    assert "none in the lamp file" in dict(cutout_facts(invented_faults(cutout=False)))["cut-out"]


def test_early_detection_is_told_or_denied(held):
    """With threshold and confidence where it tells, with counts where it does not."""
    told = dict(early_facts(held))["interface x 10"]
    assert told.startswith("told apart after 5 s of full light on a cold lamp")
    assert "none of 40 good units" in told
    alike = dict(early_facts(invented_faults(apart=False)))["interface x 10"]
    assert alike.startswith("cannot be told apart")
    assert dict(early_facts(held))["heat sink"].startswith(
        "missing (interface x 100): survived by control, switched on at full from 25 to 60 degC"
    )


def test_colours_tell_whose_task_a_cell_is():
    """Held, saved by the cut-out, beyond control, and what control ought to have held."""
    saved = cell(-5.0, saved=Saved(1.0, True, SINK, 60.0, 5.0))
    passed = cell(-5.0)
    assert colour_of(Row(OPEN, (passed,)), cell(), 0) == GOOD
    assert colour_of(Row(OPEN, (saved,)), saved, 0) == SAVED
    assert colour_of(Row(OPEN, (passed,)), passed, 0) == PASSED
    assert colour_of(Row(STUCK, (passed,)), passed, 0) == BEYOND


def test_the_terminal_fits_80_columns(failed):
    """Table, facts and verdict, the verdict last."""
    out = io.StringIO()
    print_study(failed, out)
    lines = out.getvalue().rstrip("\n").split("\n")
    assert max(map(len, lines)) <= COLUMNS
    assert lines[-1].endswith("stuck on.")
    assert "seen at once" in out.getvalue()


def test_json_holds_every_cell(held):
    """One document without NaN, with each moment of each fault."""
    document = json.loads(to_json(held))
    assert document["held"] is True
    assert set(document["faults"][1]["moments"]) == {
        "cold start",
        "steady",
        "foldback",
        "while off",
    }
    assert document["cutouts"]["trip_that_does"]["junctions_c"] == 81.0
    assert document["without_heat_sink"]["early"][0]["told_apart"] is True


@pytest.mark.parametrize("cutout", [True, False])
def test_the_page_holds_every_figure_and_the_cautions(cutout):
    """Each figure that there is, drawn, in its section; nothing from elsewhere."""
    study = invented_faults(cutout=cutout)
    kinds = kinds_of(study)
    assert ("trip" in [kind.name for kind in kinds]) == cutout
    for kind in kinds:
        assert kind.draw(study).get_axes()
        assert kind.alt(study)
    text = page(study, {kind.name: f"<svg>{kind.name}</svg>" for kind in kinds})
    for kind in kinds:
        assert f"<svg>{kind.name}</svg>" in text
    assert "independent hardware cut-out" in text
    assert "http" not in text
