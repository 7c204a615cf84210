"""Every figure of an operating point, with the words that belong to it."""

from typing import TYPE_CHECKING

from derate.report.kind import Kind
from derate.report.point_board import board_figure, places_figure
from derate.report.point_derating import derating_figure
from derate.report.point_fan import fan_figure
from derate.report.point_helps import helps_figure
from derate.report.point_impedance import impedance_figure
from derate.report.point_light import light_figure
from derate.report.point_path import path_figure
from derate.report.point_sentences import (
    best_words,
    derating_words,
    helps_words,
    path_words,
    places_words,
    threshold_words,
)
from derate.report.point_surfaces import surface_notes
from derate.report.point_threshold import threshold_figure
from derate.report.point_words import verdict

if TYPE_CHECKING:
    from derate.study.point import PointStudy

KINDS: tuple[Kind["PointStudy"], ...] = (
    Kind(
        "path",
        "Where the kelvins are lost",
        path_figure,
        lambda study: f"Temperature from junction to ambient, step by step. {path_words(study)}",
        "Read it from the top: each stair is what the heat loses on its way out, the dark one is "
        "the largest and the first to work on. Watts grow where other emitters join the way; K/W "
        "is the drop over the watts that pass there.",
    ),
    Kind(
        "fan",
        "Where the fan works",
        fan_figure,
        lambda study: (
            "Pressure of each fan and of the channels between its fins. "
            + "; ".join(f"{name}: {words}" for name, words in surface_notes(study))
        ),
        "The fan gives less pressure the more it moves, the channels take more: the ring is where "
        "both agree. A steep dashed line wants wider gaps, a flat one can do with more fins.",
    ),
    Kind(
        "helps",
        "What would help",
        helps_figure,
        lambda study: (
            "Measures by their effect. "
            + ("; ".join(": ".join(told) for told in helps_words(study)) or "None counts: 0 K")
        ),
        "First a tenth more or less of one thing, everything else as it is: what counts for the "
        "place that limits, and for the junction that is nearest to its limit. Last, changed lamps "
        "solved again, with what their light gains here and what it gains where limits set it.",
    ),
    Kind(
        "derating",
        "How much may be driven in which ambient",
        derating_figure,
        lambda study: (
            f"Permitted drive and light by ambient: "
            f"{derating_words(study.derating, study.ambient_c)}"
        ),
        "The curve goes as high as every limit allows, at rest and without any control. The "
        "ground tells what is at its limit on the curve. The ring is what is permitted at this "
        "point, a square what is asked where that is less than full drive.",
    ),
    Kind(
        "threshold",
        "What the firmware reads when a junction is at its limit",
        threshold_figure,
        lambda study: (
            "Hottest junction against reading. "
            + "; ".join(f"{name}: {words}" for name, words in threshold_words(study))
        ),
        "A ring is where a junction meets its limit, the red line the reading there: control has "
        "to act before it, by more than the reading may be off. Where solid and dotted lines lie "
        "apart one threshold cannot be right for both a hot day and a dim light.",
    ),
    Kind(
        "light",
        "Does more current give more light?",
        light_figure,
        lambda study: f"Light and hottest junction by command: {best_words(study.best)}",
        "Where the curve bends over, heat takes more light than current brings. Limits are left "
        "aside here; the blue ring is what they permit, a square what is asked.",
    ),
    Kind(
        "impedance",
        "How fast it warms",
        impedance_figure,
        lambda study: (
            "Thermal impedance against time: "
            + "; ".join(
                f"{one.channel} comes to {one.ambient_k_per_w[-1]:.2f} K/W above ambient"
                for one in study.impedances
            )
        ),
        "One watt more of heat in each emitter of the channel, and how far its hottest junction "
        "has risen above each place after a time, both axes logarithmic. Where two lines part, the "
        "nearer place begins to warm; a sensor can tell nothing of what comes before.",
    ),
    Kind(
        "board",
        "The board from above",
        board_figure,
        lambda study: f"Temperature map of the board. {verdict(study)}",
        "Frames are the pads of the emitters in the colour of their channel, circles in the "
        "corners holes, the diamond a thermistor. The ring is the hottest place of the board.",
    ),
    Kind(
        "places",
        "Where to put the thermistor",
        places_figure,
        lambda study: f"Maps of offset and lag of a thermistor. {places_words(study)}",
        "Dark is good: near to the hottest junction in temperature and in time. White is where "
        "no thermistor may sit: pads, holes, edge. The ring is where it misses least, whichever "
        "channels are lit; the diamond is the lamp as it is. The lag of its own body comes on top.",
    ),
)
"""In the order of the page."""


def kinds_of(study: "PointStudy") -> tuple[Kind["PointStudy"], ...]:
    """The figures that there is something to show in."""
    board = study.board
    there = {
        "path": bool(study.paths),
        "fan": any(one.fan for one in study.surfaces),
        "helps": bool(study.helps or study.what_ifs),
        "threshold": any(
            len(curve.value) > 1 for relation in study.thresholds for curve in relation.curves
        ),
        "light": len(study.best.command) > 0,
        "impedance": bool(study.impedances),
        "board": board is not None and board.field is not None,
        "places": board is not None and board.places is not None,
    }
    return tuple(kind for kind in KINDS if there.get(kind.name, True))
