"""Every figure of the fault matrix, with the words that belong to it."""

from typing import TYPE_CHECKING

from derate.report.faults_matrix import matrix_alt, matrix_figure
from derate.report.faults_rates import rates_alt, rates_figure
from derate.report.faults_trip import trip_alt, trip_figure
from derate.report.kind import Kind

if TYPE_CHECKING:
    from derate.limits.fault_matrix import FaultStudy

KINDS: tuple[Kind["FaultStudy"], ...] = (
    Kind(
        "matrix",
        "Every fault at every moment",
        matrix_figure,
        matrix_alt,
        "In each cell the place nearest to its limit or farthest above it, how far it is above in "
        "brackets, when the controller raised a flag, and how the channel driven most is driven "
        "towards the end. A flag that was let go had cleared while the fault was still there. From "
        "the fault on the lamp stands in the hottest and stillest air of its file, everything "
        "asked for at full.",
    ),
    Kind(
        "trip",
        "The cut-out between service and limit",
        trip_figure,
        trip_alt,
        "Its band has to lie right of what service brings and left of the end of the bars below, "
        "which are the highest temperatures at which the slowest one may open so that all limits, "
        "or those of the junctions, hold with the controller stuck at full.",
    ),
    Kind(
        "rates",
        "A missing heat sink shows early",
        rates_figure,
        rates_alt,
        "Each band holds all units of its kind: how fast the firmware's reading has risen on the "
        "mean from switch-on, cold and at full, to the instant on the axis. The diamond is where "
        "they are told apart. Units are drawn within the tolerances and spread over all the air of "
        "the file; those shown had no part in choosing the threshold.",
    ),
)
"""In the order of the page."""


def kinds_of(study: "FaultStudy") -> tuple[Kind["FaultStudy"], ...]:
    """The figures that there is something to show in."""
    there = {
        "rates": bool(study.early),
        "trip": study.cutouts is not None and study.cutouts.window is not None,
    }
    return tuple(kind for kind in KINDS if there.get(kind.name, True))
