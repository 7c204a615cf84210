"""`derate worst` bounds every history; its status says whether every limit holds."""

import json

import pytest

from tests.cli.test_tune import LAMP

REPLAY_K = 1e-6
"""The same run again: rounding."""
FILES = {"summary.json", "worst.html"} | {
    f"{name}.{kind}" for name in ("places", "history") for kind in ("svg", "png")
}
MISTAKES = [
    (["worst"], "the following arguments are required: LAMP"),
    (["worst", "none.toml"], "none.toml: found no such file, due a lamp file"),
    (["worst", "lamp.toml", "--ambient", "40 degC", "20 degC"], "due the lesser end first"),
    (["worst", "lamp.toml", "--airflow", "-1", "1"], "a factor of at least 0, such as 0.5 is due"),
]


@pytest.fixture
def small(folder):
    """A lamp of one node with a foldback that holds its limit, but just."""
    text = LAMP.replace('cutoff = "100 degC"', 'cutoff = "90 degC"')
    (folder / "lamp.toml").write_text(text, encoding="utf-8")
    return folder


def test_everything_is_told_and_written(small, derate):
    """JSON, page, files and later runs of the same lamp tell one bound; the replay stays below."""
    status, out, err = derate("worst", "lamp.toml", "--json", "--out", "out")
    told = json.loads(out)
    assert status == (0 if told["held"] else 1), err
    places = {place["name"]: place for place in told["units"][0]["places"]}
    assert {"board", "junction.spot"} == places.keys()
    for place in places.values():
        assert place["gap_k"] >= 0.0
        assert place["bound_c"] <= place["full_light_for_ever_c"] + 1e-6
    assert {path.name for path in (small / "out").iterdir()} >= FILES
    assert told["verdict"].split(":")[0] in (small / "out" / "worst.html").read_text("utf-8")
    status, out, err = derate("run", "lamp.toml", "--profile", "out/board.toml", "--json")
    again = json.loads(out)
    peak_c = again["nodes"]["board"]["peak_c"]
    assert peak_c == pytest.approx(places["board"]["replayed_c"], abs=REPLAY_K)
    assert f"{places['board']['bound_c']:.1f} degC" in again["bound"]
    changed = (small / "lamp.toml").read_text("utf-8").replace("9 K/W", "8.9 K/W")
    (small / "lamp.toml").write_text(changed, "utf-8")
    assert json.loads(derate("run", "lamp.toml", "--json")[1])["bound"] is None


@pytest.mark.parametrize(("words", "due"), MISTAKES)
def test_mistakes_are_told_in_a_sentence(small, derate, words, due):
    """What cannot be asked for ends with status 2 and one sentence."""
    status, out, err = derate(*words)
    assert (status, out) == (2, "")
    assert due in err
