"""The operating point at the terminal, as JSON, as a page and as files."""

import csv
import io
import itertools
import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from derate.report.page import CAUTIONS
from derate.report.point_comparison import comparison_rows, cost_words, names_of_sides
from derate.report.point_figures import kinds_of
from derate.report.point_files import report_files, write
from derate.report.point_sentences import derating_words, safe_words, threshold_words
from derate.report.point_summary import derating_csv, to_json
from derate.report.point_surfaces import surface_row
from derate.report.point_terminal import print_study
from derate.report.point_words import (
    celsius,
    cooler,
    cut,
    helped,
    limited,
    measures,
    shares,
    standing,
    thresholds_c,
    told_nodes,
    verdict,
    whole_percent,
)
from derate.report.words import number, signed
from derate.study.operation import SensorPoint, Stability
from tests.report.invented_point import NAN, hot_study, invented_study, runaway_study
from tests.report.test_page import Reader

COLUMNS = 80
STUDIES = {"held": invented_study(), "hot": hot_study(), "runaway": runaway_study()}
STUDY = pytest.mark.parametrize("which", STUDIES)
WRITTEN_AS = 1e-7
"""Figures of the CSV have eight digits."""


def printed(study):
    """What stands on the terminal."""
    out = io.StringIO()
    print_study(study, out)
    return out.getvalue()


def words_of(study):
    """The same without line breaks."""
    return " ".join(printed(study).split())


@STUDY
def test_the_terminal_fits_80_columns(which):
    """No line is wider, and the verdict is last, whatever came out."""
    text = printed(STUDIES[which])
    assert max(map(len, text.split("\n"))) <= COLUMNS
    assert " ".join(text.split()).endswith(verdict(STUDIES[which]))


def test_long_names_fit_too():
    """A channel, a node and a sensor of twenty signs leave the numbers whole."""
    long = "a_name_of_twenty_sig"
    study = invented_study()
    channels = (replace(study.channels[0], name=long, current_a=12.34), study.channels[1])
    nodes = (*study.nodes, replace(study.nodes[-1], name=long + "ns"))
    text = printed(replace(study, channels=channels, nodes=nodes))
    assert max(map(len, text.split("\n"))) <= COLUMNS
    assert "12.3" in text
    assert "104.3" in text


def test_the_terminal_tells_what_was_asked():
    """Channels, sensors, limits, helps, derating, control and the other lamp are all there."""
    words = words_of(STUDIES["held"])
    for due in (
        "at rest in 35 degC, airflow 1, request 100 %",
        "cool 100 % 1.00 14.6 14.6 9.71 1610 110 104.3 94.4 115 9.9",
        "sink 78.2 85 6.8",
        "reads 78.4 degC (code 812)",
        "off by -1.9 to +1.6 K at worst",
        "88.7 degC as junction of cool meets its limit (full drive in 46 degC)",
        "sink: 10 % more area of surface fins: 3.1 K cooler",
        "full drive to 39 degC (sink), none from 85 degC",
        "settles at 94 % of the requests, reading 77.0 degC",
        "Invented copper light",
        "27.90 EUR",
        "counted in what is left to the limit",
    ):
        assert due in words, due


def test_numbers_stay_with_their_units():
    """No line of the terminal begins with a unit whose number stands on the line before."""
    for study in STUDIES.values():
        for before, line in itertools.pairwise(printed(study).split("\n")):
            unit = re.match(r"\s*(%|degC|K|W|lm)\b", line)
            assert not (unit and re.search(r"\d$", before)), (before, line)


def test_verdicts():
    """One sentence says where, what is nearest, by how much, and what would be permitted."""
    alone = {name: replace(study, comparison=None) for name, study in STUDIES.items()}
    assert verdict(alone["held"]) == (
        "Holds at rest in 35 degC: sink 78.2 degC, 6.8 K below its limit."
    )
    assert verdict(alone["hot"]) == (
        "Too hot at rest in 50 degC: sink 93.2 degC, 8.2 K above its limit; 76 % of full drive is "
        "permitted."
    )
    assert verdict(alone["runaway"]) == "Runs away in 35 degC; 40 % of full drive is permitted."
    dark = replace(alone["held"], limit=None)
    assert verdict(dark) == "Holds at rest in 35 degC: nothing that has a limit warms up."
    nothing = replace(alone["hot"].derating, here=0.0)
    assert verdict(replace(alone["hot"], derating=nothing)).endswith(
        "no drive at all is permitted."
    )


def test_the_other_lamp_has_a_verdict_too():
    """Held against another lamp, the verdict ends in what that one is nearest to, or no rest."""
    held = STUDIES["held"]
    too_hot = replace(held.comparison.other, limiting="body", margin_k=-27.0, runaway=False)
    words = verdict(replace(held, comparison=replace(held.comparison, other=too_hot)))
    assert words.endswith(f" The other, {too_hot.name}: body 27.0 K above its limit.")
    lost = replace(too_hot, runaway=True)
    words = verdict(replace(held, comparison=replace(held.comparison, other=lost)))
    assert words.endswith(f" The other lamp, {lost.name}, has no rest.")


def test_standing_follows_the_study():
    """The word that colours the verdict says what the study says."""
    told = {name: standing(study) for name, study in STUDIES.items()}
    assert told == {"held": "held", "hot": "exceeded", "runaway": "exceeded"}


def test_limited_names():
    """Junctions are told by their channel, other nodes by their name, a runaway in words."""
    assert limited("junction.low_beam.3") == "junction of low_beam"
    assert limited("housing") == "housing"
    assert limited("runaway") == "thermal runaway"


@pytest.mark.parametrize(
    ("share", "told"),
    [(1.0, "100 %"), (0.634, "63 %"), (0.0996, "10 %"), (0.0123, "1.2 %"), (0.0, "0 %")],
)
def test_shares_in_percent(share, told):
    """A share has two digits or three, never a needless one."""
    assert whole_percent(share) == told
    assert shares({"one": share, "two": share}) == told


def test_shares_that_differ_are_named():
    """Requests of their own are told channel by channel."""
    assert shares({"cool": 1.0, "warm": 0.5}) == "cool 100 %, warm 50 %"
    assert whole_percent(NAN) == "-"


def test_measures_are_sorted_and_count():
    """The largest effect comes first, and what moves nothing by a tenth is left out."""
    found = measures(STUDIES["held"].helps)
    effects = [abs(one.per_percent_k) for one in found]
    assert effects == sorted(effects, reverse=True)
    assert "thickness of the board's core" not in {one.what for one in found}
    assert len(found) == 3


def test_whom_it_helps():
    """The limiting place comes first, then the nearest junction unless it is the same one."""
    study = STUDIES["held"]
    assert [place for place, _ in helped(study)] == ["sink", "junction of cool"]
    assert "junction of cool: 10 % more area of surface fins: 3.0 K cooler" in words_of(study)
    same = replace(study, limit=study.junction, helps=study.junction_helps)
    assert [place for place, _ in helped(same)] == ["junction of cool"]
    assert helped(STUDIES["runaway"]) == []


def test_points_of_the_board_are_not_listed():
    """A short list of nodes holds the mean of the board, not each solder point."""
    assert [one.name for one in told_nodes(STUDIES["held"])] == ["board", "sink", "driver_board"]


def test_thresholds_of_the_control():
    """Policy and cut-off are named in order; levels count from one."""
    study = invented_study()
    assert list(thresholds_c(study)) == [("start", 76.0), ("end", 92.0), ("cut-off", 100.0)]
    study.lamp.controller.policy.thresholds_c = {"levels.0.at": 60.0, "levels.1.at": 70.0}
    assert [name for name, _ in thresholds_c(study)] == ["level 1", "level 2", "cut-off"]


def test_derating_without_corners():
    """A lamp that is never free, or never bound, on the grid is told so."""
    curve = STUDIES["held"].derating
    never = replace(curve, full_until_c=NAN, permitted=0.5 * curve.permitted)
    assert derating_words(never, 35.0).startswith("less than full drive from -20 degC on")
    free = replace(curve, full_until_c=NAN, dark_from_c=NAN, permitted=np.ones(61))
    assert derating_words(free, 35.0).startswith("full drive to 100 degC and more;")


def test_safe_ambients_that_are_none():
    """Levels without a safe ambient are passed over; others are never rounded up."""
    levels = tuple(replace(one, ambient_c=NAN) for one in STUDIES["held"].safe_ambients)
    assert safe_words(replace(STUDIES["held"], safe_ambients=levels)) == (
        "none of 100 %, 75 %, 50 %, 25 % keeps every limit, not even in -20 degC"
    )
    assert safe_words(STUDIES["held"]).startswith("100 % up to 39 degC, 75 % up to 50 degC")


def test_levels_safe_to_the_end_of_the_curve():
    """A level that the hottest ambient looked at does not stop is told to be safe there and on."""
    study = STUDIES["held"]
    first, *rest = study.safe_ambients
    free = replace(study, safe_ambients=(replace(first, ambient_c=300.0, acting=""), *rest))
    assert safe_words(free).startswith("100 % up to 300 degC and more, 75 % up to 50 degC")


def test_a_rest_that_is_too_hot_is_no_runaway():
    """A lamp that would come to rest above any sense is told apart from one that runs away."""
    lost = STUDIES["runaway"]
    hot = replace(lost, stability=Stability(False, NAN, "Hotter.", too_hot=True))
    assert verdict(hot) == "Far too hot at rest in 35 degC; 40 % of full drive is permitted."
    assert not hot.holds
    assert "away" not in verdict(hot)
    assert limited("over 1000 degC") == "over 1000 degC"


def test_where_no_junction_meets_its_limit():
    """What is said then tells how far was looked, or that even the coldest is too hot."""
    study = STUDIES["held"]
    (relation,) = study.thresholds
    cool = replace(study, thresholds=(replace(relation, at_limit=()),))
    ((_, words),) = threshold_words(cool)
    assert words.startswith("no junction comes to its limit with full drive in up to ")
    assert words.endswith(" nor with any request in 35 degC")
    curves = tuple(replace(curve, junction_c=curve.junction_c + 500.0) for curve in relation.curves)
    hot = replace(study, thresholds=(replace(relation, at_limit=(), curves=curves),))
    ((_, words),) = threshold_words(hot)
    assert words.startswith("none: junction of cool is beyond its limit already with full drive in")


def test_nothing_is_minus_zero():
    """What rounds to zero has no sign, and a change of a temperature has a word for its sense."""
    assert (number(-0.04), signed(-0.04), signed(-0.06)) == ("0.0", "0.0", "-0.1")
    assert celsius(-0.0) == "0 degC"
    assert [cooler(k) for k in (1.94, -0.4, 0.04, -0.04)] == [
        "1.9 K cooler", "0.4 K warmer", "as it is", "as it is",
    ]  # fmt: skip


def test_a_faulty_reading_is_told():
    """A code inside a fault window is no temperature."""
    faulty = SensorPoint("ntc", "board", 90.0, 90.0, NAN, 4095, "open", NAN, NAN)
    assert "code 4095, taken for open, thermistor 90.0 degC" in words_of(
        replace(STUDIES["held"], sensors=(faulty,))
    )


def test_comparison_leaves_out_what_nobody_knows():
    """Without prices there is no row on cost; a lamp without a rest is told so."""
    comparison = STUDIES["held"].comparison
    names = [name for name, _, _ in comparison_rows(comparison)]
    assert {"cost", "light per cost"} <= set(names)
    bare = replace(
        comparison,
        this=replace(comparison.this, cost=None),
        other=replace(comparison.other, cost=None, runaway=True),
    )
    rows = {name: (this, other) for name, this, other in comparison_rows(bare)}
    assert "cost" not in rows
    assert rows["left to limit"] == ("6.8 K", "no rest")


def test_lamps_of_one_name_are_told_by_their_files():
    """Two versions of a lamp are told apart."""
    study = STUDIES["held"]
    assert names_of_sides(study) == ("Invented workshop light", "Invented copper light")
    other = replace(study.comparison.other, name="Invented workshop light")
    alike = replace(
        study,
        comparison=replace(study.comparison, other=other),
        source=study.source | {"against": "copper.toml"},
    )
    assert names_of_sides(alike) == ("workshop.toml", "copper.toml")


def test_surfaces_are_told():
    """Area, coefficients, parts and fan of each stand on terminal and page; unknown is a dash."""
    study = STUDIES["held"]
    told = [line.split() for line in printed(study).split("\n")]
    fins = ["fins", "600", "78.2", "35.0", "6.6", "0.81", "17.0", "2.10", "19.1"]
    assert fins in told
    assert ["bracket", "-", "81.9", "35.0"] in [line[:4] for line in told]
    assert surface_row(study.surfaces[1])[4:8] == ("-",) * 4
    words = "fin efficiency 95 %, 7.20 W/(m2 K) between the fins; flow of 1.60 m/s; the fan moves"
    assert words in words_of(study)
    assert words in report_files(study)["point.html"].decode()


def test_resistance_to_ambient_in_both_conventions():
    """Terminal, page and document tell K/W real and electrical, and that of each step."""
    study = STUDIES["held"]
    assert "cool 69.3 K, 3.57 K/W real, 2.16 K/W electrical" in words_of(study)
    path = json.loads(to_json(study))["paths"][0]
    assert (path["real_k_per_w"], path["electrical_k_per_w"]) == (3.57, 2.16)
    assert path["steps"][0]["resistance_k_per_w"] == pytest.approx(9.9 / 1.94)


def test_a_dark_lamp_is_told_without_nan():
    """Without light there is no efficacy and nothing to control, and no nan on the terminal."""
    study = STUDIES["held"]
    power = replace(study.power, light_lm=0.0, efficacy_lm_per_w=NAN)
    words = words_of(replace(study, power=power, settled=None))
    assert "nan" not in words
    assert "; 0 lm in all" in words
    assert "nothing is requested" in words


def test_no_nan_in_a_runaway():
    """What has no value is a dash."""
    assert not re.search(r"\bnan\b", words_of(STUDIES["runaway"]))


def test_cost_names_what_has_no_price():
    """The dearest part comes first; parts without a price are named."""
    cost = replace(STUDIES["held"].cost, unpriced=("sensors.ntc",))
    told = cost_words(cost)
    assert told.startswith("24.37 EUR for emitters 8.50, driver 7.50")
    assert told.endswith("without a price: sensors.ntc")


def test_cut():
    """A text is left alone where it fits, and never longer than asked for."""
    assert cut("junction", 8) == "junction"
    assert len(cut("a" * 30, 22)) == 22


@STUDY
def test_json_without_nan(which):
    """One document in plain numbers that says the same as the terminal."""
    study = STUDIES[which]

    def refuse(constant):
        raise AssertionError(f"{constant} in JSON")

    document = json.loads(to_json(study), parse_constant=refuse)
    assert document["verdict"] == verdict(study)
    assert document["holds"] is study.holds
    assert [one["name"] for one in document["channels"]] == ["cool", "warm"]
    assert len(document["derating"]["ambient_c"]) == len(study.derating.ambient_c)
    assert document["provenance"]["command"] == "derate point workshop.toml"
    junction_c = document["channels"][0]["junction_c"]
    assert (junction_c is None) == math.isnan(study.channels[0].junction_c)


def test_the_derating_curve_as_csv():
    """A row an ambient; the command of a channel is the permitted share times its mix."""
    curve = replace(STUDIES["held"].derating, mix={"cool": 1.0, "warm": 0.5})
    rows = list(csv.DictReader(io.StringIO(derating_csv(curve))))
    assert len(rows) == len(curve.ambient_c)
    for row, at_c, share, acting in zip(
        rows, curve.ambient_c, curve.permitted, curve.acting, strict=True
    ):
        assert float(row["ambient_c"]) == pytest.approx(at_c, rel=WRITTEN_AS)
        assert float(row["command_cool"]) == pytest.approx(share, rel=WRITTEN_AS)
        assert float(row["command_warm"]) == pytest.approx(share / 2, rel=WRITTEN_AS)
        assert row["acting"] == acting


@STUDY
def test_the_page_is_whole(which, tmp_path):
    """The page loads nothing, closes its tags, and holds every figure and the verdict."""
    study = STUDIES[which]
    written = {path.name for path in write(report_files(study), tmp_path)}
    kinds = kinds_of(study)
    assert {"point.html", "summary.json", "derating.csv", "derating.svg"} <= written
    assert {f"{kind.name}.png" for kind in kinds} <= written
    text = (tmp_path / "point.html").read_text(encoding="utf-8")
    reader = Reader(text)
    assert reader.open == []
    assert reader.tags.count("svg") == len(kinds)
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(reader.tags)
    assert all(value.startswith("#") for value in reader.loads)
    assert len(reader.ids) == len(set(reader.ids))
    words = " ".join(
        "".join(Reader(re.sub(r"<(style|svg).*?</\1>", "", text, flags=re.S)).text).split()
    )
    assert not re.search(r"\b(nan|None|Undefined|inf)\b", words)
    for due in (*CAUTIONS, "Invented <workshop> light", "5e5e5e"):
        assert due in words
    assert verdict(study).replace("degC", "\N{DEGREE SIGN}C") in words


def test_a_board_tells_how_exact_it_is():
    """The page compares the model with the closed form and says where a thermistor is advised."""
    page = report_files(STUDIES["held"])["point.html"].decode()
    assert "solder.cool.4" in page
    assert "advised at 43.0 mm, 30.5 mm: 18.4 K below the hottest junction" in page
    assert "How exact the board is" not in report_files(STUDIES["hot"])["point.html"].decode()
