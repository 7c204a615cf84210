"""The operating point of a lamp: how hot, how bright, what limits it and what would help."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import derate
from derate.lamp.doubts import doubts
from derate.lamp.lamp import Lamp
from derate.plant.rest import Rest
from derate.plant.surface.doubts import doubts_of_surfaces
from derate.study.balance import power_of
from derate.study.best import BestCommand, SafeAmbient, best_command, safe_ambients
from derate.study.board import BoardPoint, board_point
from derate.study.colour_point import ColourPoint, colour_point
from derate.study.comparison import Comparison, Cost, cost_of, side_of
from derate.study.derating import Derating, derating
from derate.study.helps import Help, WhatIf
from derate.study.impedance import Impedance, impedances
from derate.study.operating import Operating
from derate.study.operation import ChannelPoint, Limit, NodePoint, Power, SensorPoint, Stability
from derate.study.path import HeatPath, paths
from derate.study.places import (
    channel_points,
    nearest_limit,
    node_points,
    outside,
    sensor_points,
    stability,
)
from derate.study.sensitivity import helps
from derate.study.settle import Settled, settled
from derate.study.sharing import Shared, sharing
from derate.study.situation import DEFAULT_C, checked_airflow, checked_ambient, checked_requests
from derate.study.surfaces import SurfacePoint, surface_points
from derate.study.threshold import ThresholdRelation, thresholds
from derate.study.what_if import what_ifs


@dataclass(frozen=True, eq=False)
class PointStudy:
    """A lamp at rest at one ambient, airflow and request, and its neighbourhood.

    ``source``: where it comes from, name to text; ``requests``: share 0..1 per channel. Without
    a rest ``channels``, ``sensors``, ``nodes`` and ``power`` hold nan, ``limit`` is None, and
    ``paths``, ``helps``, ``what_ifs``, ``impedances``, ``surfaces`` are empty; not so the curves.
    ``limit`` is the one that acts first, of any node; ``helps`` and ``what_ifs`` tell what moves
    that node. ``junction`` and ``junction_helps`` are the same for the junction that is nearest to
    its limit. ``settled`` is None without any request, ``colour`` where the file does not tell the
    colours of all lit channels; ``shared``: ways in which they could share the limits.
    """

    source: dict[str, str]
    lamp: Lamp
    ambient_c: float
    airflow: float
    requests: dict[str, float]
    stability: Stability
    channels: tuple[ChannelPoint, ...]
    sensors: tuple[SensorPoint, ...]
    nodes: tuple[NodePoint, ...]
    power: Power
    limit: Limit | None
    paths: tuple[HeatPath, ...]
    helps: tuple[Help, ...]
    what_ifs: tuple[WhatIf, ...]
    derating: Derating
    thresholds: tuple[ThresholdRelation, ...]
    best: BestCommand
    safe_ambients: tuple[SafeAmbient, ...]
    settled: Settled | None
    impedances: tuple[Impedance, ...]
    board: BoardPoint | None
    cost: Cost | None
    comparison: Comparison | None
    warnings: tuple[str, ...]
    junction: Limit | None = None
    junction_helps: tuple[Help, ...] = ()
    surfaces: tuple[SurfacePoint, ...] = ()
    colour: ColourPoint | None = None
    shared: tuple[Shared, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether there is a rest at which every limit holds."""
        return self.stability.rests and (self.limit is None or self.limit.margin_k >= 0)


def study_point(
    lamp: Lamp,
    *,
    ambient_c: float | None = None,
    airflow: float = 1.0,
    request: float | Mapping[str, float] = 1.0,
    against: Lamp | None = None,
    doing: Callable[[str], object] = lambda doing: None,
) -> PointStudy:
    """The operating point of ``lamp`` at rest.

    ``ambient_c`` [degC]: of all ambients, 25 degC by default; ``airflow`` [-]: factor as in a
    profile; ``request`` 0..1 of all channels, or by channel (others dark); ``against``: a lamp to
    hold beside it, at full request of all its channels where it has others; ``doing`` is told what
    is being done. Raises InputError for values out of range and lamps that cannot be computed.
    """
    at_c = checked_ambient(DEFAULT_C if ambient_c is None else ambient_c)
    airflow = checked_airflow(airflow)
    requests = checked_requests(lamp, request)
    share = max(requests.values())
    doing("making the heat network")
    operating = Operating(lamp, airflow, requests)
    rest = operating.at(share, at_c)
    doing("looking for the derating curve")
    curve = derating(operating, at_c)
    low_c, high_c = float(curve.ambient_c[0]), float(curve.ambient_c[-1])
    return PointStudy(
        source=_source(lamp, against),
        lamp=lamp,
        ambient_c=at_c,
        airflow=airflow,
        requests=requests,
        stability=stability(operating, rest),
        channels=channel_points(operating, rest),
        sensors=sensor_points(operating, rest, at_c),
        nodes=node_points(operating, rest),
        power=power_of(operating, rest),
        derating=curve,
        thresholds=thresholds(operating, at_c, low_c, high_c),
        best=best_command(operating, at_c),
        safe_ambients=safe_ambients(operating, at_c),
        settled=settled(operating, requests, at_c) if share > 0.0 else None,
        board=board_point(operating, rest),
        cost=cost_of(lamp),
        comparison=_comparison(operating, share, at_c, against),
        warnings=_warnings(operating, rest),
        surfaces=surface_points(operating, rest),
        colour=colour_point(operating, rest) if share > 0.0 else None,
        shared=sharing(operating, at_c),
        # last, as it makes other boards, in whose favour that of this lamp is forgotten
        **_around(operating, rest, share, at_c, doing),
    )


def _around(
    operating: Operating,
    rest: Rest,
    share: float,
    at_c: float,
    doing: Callable[[str], object],
) -> dict[str, Any]:
    """What is known only at rest: the nearest limit, heat paths, what would help."""
    limit = nearest_limit(operating, rest)
    junction = nearest_limit(operating, rest, junctions=True)
    if limit is None or junction is None:
        return {"limit": None, "paths": (), "helps": (), "what_ifs": (), "impedances": ()}
    listed = helps(operating, rest, operating.node(limit.node))
    of_junction = helps(operating, rest, operating.node(junction.node))
    moving = (*listed, *of_junction)
    return {
        "limit": limit,
        "paths": paths(operating, rest),
        "helps": listed,
        "what_ifs": what_ifs(operating, share, at_c, limit.node, junction.node, moving, doing),
        "impedances": impedances(operating, rest),
        "junction": junction,
        "junction_helps": of_junction,
    }


def _comparison(
    this: Operating, share: float, at_c: float, against: Lamp | None
) -> Comparison | None:
    if against is None:
        return None
    alike = this.requests if set(against.channels) == set(this.requests) else None
    other = Operating(against, this.airflow, alike or dict.fromkeys(against.channels, share))
    return Comparison(side_of(this, share, at_c), side_of(other, share, at_c))


def _warnings(operating: Operating, rest: Rest) -> tuple[str, ...]:
    lamp = operating.lamp
    said = [*doubts(lamp), *doubts_of_surfaces(lamp)]
    said += [text for sense in operating.senses for text in sense.chain.warnings]
    return (*said, *sorted(outside(operating, rest)))


def _source(lamp: Lamp, against: Lamp | None) -> dict[str, str]:
    found = {"version": derate.__version__, "lamp": lamp.name}
    if lamp.source:
        found["lamp_file"] = lamp.source.name
    if lamp.sha256:
        found["lamp_sha256"] = lamp.sha256
    if against is not None:
        found["against"] = against.source.name if against.source else against.name
    if against is not None and against.sha256:
        found["against_sha256"] = against.sha256
    return found
