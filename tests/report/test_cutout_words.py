"""Cut-outs told: what they are, when they opened, how far they stayed from it."""

from derate.lamp.cutout import Cutout
from derate.loop.cutout import CutoutMerit
from derate.report.cutout_words import cutout_line, cutout_sentence

SWITCH = {"at": "board", "kind": "resetting", "trip": 75.0, "tolerance": 3.0, "reset": 55.0}


def test_a_line_says_what_it_is():
    """Kind, place, both temperatures with what they may be off, lag, and what it opens."""
    assert cutout_line(Cutout.model_validate(SWITCH | {"lag": 4.0})) == (
        "resetting, at board, opens every channel at 72 to 78 degC, closes at 55 degC, lags by 4 s"
    )
    fuse = {"at": "place.ntc", "kind": "one-shot", "trip": 77.0, "opens": ["red", "blue"]}
    assert cutout_line(Cutout.model_validate(fuse)) == (
        "one-shot, at place.ntc, opens red, blue at 77 degC"
    )


def test_a_sentence_says_what_it_did():
    """Closed with its margin, or open with when and for how long."""
    closed = CutoutMerit(0, None, 0.0, 66.0, 72.0, 6.0)
    opened = CutoutMerit(2, 90.0, 30.0, 75.0, 72.0, -3.0)
    assert cutout_sentence(closed) == (
        "stays closed: at most 66.0 degC, 6.0 K below the 72.0 degC from which one of its kind may"
        " open"
    )
    assert cutout_sentence(opened) == (
        "opened 2 times, first at 1 min 30 s; open for 30 s in all; at most 75.0 degC"
    )
