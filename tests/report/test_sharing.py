"""How a run and a check tell of shares of the limit."""

from derate.report.lamp_lines import lamp_lines
from derate.report.sharing import sharing_numbers, sharing_sentence
from tests.study.lamps import demo


def stage(**sharing):
    """The stage light with this table of its controller."""
    return demo("stage_wash").with_changes({"controller.sharing": sharing})


def test_the_sentence_tells_what_the_table_rests_on():
    """Way, shares at half the limit, requests and ambient are told, each as the file has them."""
    free = sharing_sentence(stage(way="hottest first"))
    assert free.startswith("hottest first; at a limit of 50 %: red 0 %, green ")
    assert "requests of 100 %" in free
    assert "where the same share just holds every limit" in free
    held = sharing_sentence(stage(way="hold colour", request={"red": 0.3}, ambient="28 degC"))
    assert "requests of red 30 %" in held
    assert held.endswith("in air of 28 degC")


def test_a_check_says_that_more_than_the_limit_may_be_given():
    """A lamp whose channels do not share alike has a line on it; one whose channels do has none."""
    lines = "\n".join(lamp_lines(stage(way="hottest first"), "stage.toml"))
    assert "limit shared: hottest first" in lines
    assert "see the margins of a run" in lines
    assert "limit shared" not in "\n".join(lamp_lines(stage(), "stage.toml"))


def test_machines_get_the_table():
    """Limits from 0 to 1 and each channel's shares beside them."""
    numbers = sharing_numbers(stage(way="least important first"))
    assert numbers["limit"][0] == 0.0
    assert numbers["limit"][-1] == 1.0
    assert all(len(share) == len(numbers["limit"]) for share in numbers["share"].values())
    assert numbers["share"]["blue"][8] == 0.0
    assert sharing_numbers(stage()) == {"way": "same share"}
