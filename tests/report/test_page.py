"""The page: self-contained, complete, and in the right words."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from derate.report.figures import KINDS, inlined, svg_of
from derate.report.page import CAUTIONS, NOT_MODELLED, page

LOADING = {"src", "srcset", "href", "data", "action", "poster", "background"}
VOID = {"meta", "br", "img", "hr", "link", "input"}


class Reader(HTMLParser):
    """Collects tags, what they would load, ids, text, and tags left open."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.loads, self.ids, self.text, self.open = [], [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attributes:
            if name.split(":")[-1] in LOADING:
                self.loads.append(value)
            if name == "id":
                self.ids.append(value)

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def drawings_of(result):
    """The figures as the page gets them."""
    return {k.name: inlined(svg_of(k.draw(result)), k.name, k.alt(result)) for k in KINDS}


@pytest.fixture(scope="module")
def pages(held, exceeded):
    """The page of a held run and of an exceeded one."""
    return {
        "held": page(held, drawings_of(held)),
        "exceeded": page(exceeded, drawings_of(exceeded)),
    }


@pytest.mark.parametrize("which", ["held", "exceeded"])
def test_nothing_is_loaded(pages, which):
    """No script, no link, no image, no import, no address outside the page."""
    text = pages[which]
    reader = Reader(text)
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(reader.tags)
    assert all(value.startswith("#") for value in reader.loads)
    assert "@import" not in text
    assert all(address.startswith("#") for address in re.findall(r"url\(['\"]?([^)]*)", text))
    assert not re.search(r"\son\w+=", text)
    assert reader.open == []


def test_ids_are_used_once(pages):
    """No id stands twice, though six figures share the page, and each reference has its target."""
    reader = Reader(pages["held"])
    assert len(reader.ids) == len(set(reader.ids))
    assert {value[1:] for value in reader.loads} <= set(reader.ids)


def test_the_verdict_comes_first(pages):
    """The verdict stands before any table or figure, with a class of its own."""
    held, exceeded = pages["held"], pages["exceeded"]
    assert 'class="verdict held">Held: housing 60.6 °C' in held
    assert 'class="verdict exceeded">Exceeded: junction of high_beam' in exceeded
    for text in pages.values():
        assert text.index('class="verdict') < text.index("<table")


def test_hunting_has_a_colour_of_its_own(held, exceeded, pages):
    """A run that held but hunts is neither green nor red, and the title of the window says so."""
    hunts = replace(held, merit=replace(held.merit, hunting=exceeded.merit.hunting))
    text = page(hunts, drawings_of(hunts))
    assert 'class="verdict hunts">Held: housing' in text
    assert ".hunts {" in text
    assert ": held, but hunts</title>" in text
    assert ": held</title>" in pages["held"]


def test_all_sections_are_there(pages, exceeded):
    """Cautions, what is not modelled, warnings, provenance and every figure with its caption."""
    text = pages["exceeded"]
    words = " ".join("".join(Reader(text).text).split())
    for sentence in (*CAUTIONS, *NOT_MODELLED):
        assert sentence in words
    for kind in KINDS:
        assert kind.caption in words
    assert "Warning: junction of low_beam left" in words
    assert exceeded.provenance["lamp_sha256"] in words
    assert exceeded.provenance["command"] in words
    assert "Hunting: every 38 s from 11 min 40 s to 25 min" in words
    assert "Least hysteresis that stops it: 3.2 K." in words


def test_no_raw_values(pages):
    """No nan, None or unset name reaches the reader."""
    for text in pages.values():
        words = "".join(Reader(re.sub(r"<(style|svg).*?</\1>", "", text, flags=re.S)).text)
        assert not re.search(r"\b(nan|None|Undefined|inf)\b", words)


def test_names_are_escaped(held):
    """Text of the lamp file cannot become markup."""
    told = {"name": "<script>x</script>", "text": "<script>"}
    lamp = type(held.lamp)(**vars(held.lamp) | told)
    result = replace(held, lamp=lamp)
    assert "<script" not in page(result, drawings_of(result))


def test_without_happenings_and_limited_nodes(held):
    """Empty parts say so instead of showing an empty table."""
    result = replace(held, happenings=(), merit=replace(held.merit, nodes={}, warnings=()))
    text = page(result, drawings_of(result))
    assert "No node of the lamp file has a limit" in text
    assert "no event in the profile" in text


def test_the_page_holds_the_inputs_and_the_faults(pages):
    """Lamp file, hashes and what the controller saw of faults stand on the page, escaped."""
    text = pages["held"]
    assert "Invented &lt;bicycle&gt; lamp" in text
    assert "sensor open once, 2 min 30 s in all, first at 30 min" in text
