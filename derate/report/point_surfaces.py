"""Surfaces at rest: a row each, and notes."""

import math
from typing import TYPE_CHECKING, NamedTuple

from derate.report.words import figures, number

if TYPE_CHECKING:
    from derate.study.point import PointStudy
    from derate.study.surfaces import SurfacePoint

M3_PER_H = 3600.0
CM2 = 1e4


class Row(NamedTuple):
    """One surface in words: what a table shows of it."""

    name: str
    area: str
    at: str
    partner: str
    convection: str
    radiation: str
    convection_w: str
    radiation_w: str
    heat_w: str


HEADS = Row(
    "", "area\ncm2", "at\ndegC", "air\ndegC", "conv.\nW/m2K", "rad.\nW/m2K", "conv.\nW", "rad.\nW",
    "heat\nW",
)  # fmt: skip
"""Heads of the columns at the terminal."""


def surface_row(one: "SurfacePoint") -> Row:
    """The figures of a surface."""
    return Row(
        one.name.removeprefix("surface "),
        figures(CM2 * one.area_m2),
        number(one.temperature_c),
        number(one.partner_c),
        figures(one.convection_w_per_m2_k, 2),
        figures(one.radiation_w_per_m2_k, 2),
        figures(one.convection_w),
        figures(one.radiation_w),
        figures(one.heat_w),
    )


def surface_notes(study: "PointStudy") -> list[tuple[str, str]]:
    """For each surface with fins or a flow, what there is to say of them."""
    told = [(surface_row(one).name, "; ".join(_notes(one))) for one in study.surfaces]
    return [(name, words) for name, words in told if words]


def _notes(one: "SurfacePoint") -> list[str]:
    words = []
    if math.isfinite(one.fin_efficiency):
        words.append(
            f"fin efficiency {100 * one.fin_efficiency:.0f} %, "
            f"{figures(one.film_w_per_m2_k)} W/(m2 K) between the fins"
        )
    if math.isfinite(one.speed_m_per_s):
        words.append(f"flow of {figures(one.speed_m_per_s)} m/s")
    if one.fan is not None:
        words.append(
            f"the fan moves {figures(M3_PER_H * one.fan.at_m3_per_s)} m3/h against "
            f"{figures(one.fan.at_pa)} Pa"
        )
    if math.isfinite(one.air_rise_k):
        words.append(f"the flow leaves {number(one.air_rise_k)} K warmer")
    return words
