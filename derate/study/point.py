"""The operating point of a lamp: how hot, how bright, what limits it and what would help."""

from dataclasses import dataclass

from derate.lamp.lamp import Lamp
from derate.study.best import BestCommand, SafeAmbient
from derate.study.board import BoardPoint
from derate.study.comparison import Comparison, Cost
from derate.study.derating import Derating
from derate.study.helps import Help, WhatIf
from derate.study.impedance import Impedance
from derate.study.operation import ChannelPoint, Limit, NodePoint, Power, SensorPoint, Stability
from derate.study.path import HeatPath
from derate.study.settle import Settled
from derate.study.threshold import ThresholdRelation


@dataclass(frozen=True, eq=False)
class PointStudy:
    """A lamp at rest at one ambient, airflow and request, and its neighbourhood.

    ``source``: where it comes from, name to text; ``requests``: share 0..1 per channel. In a
    runaway ``channels``, ``sensors``, ``nodes`` and ``power`` hold nan, ``limit`` is None, and
    ``paths``, ``helps``, ``what_ifs``, ``impedances`` are empty; the curves are still there.
    ``limit`` is also None without any limit or light. ``settled`` is None where the policy cannot
    be asked (runaway at its rest is told in its sentence).
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

    @property
    def holds(self) -> bool:
        """Whether there is a rest at which every limit holds."""
        return not self.stability.runaway and (self.limit is None or self.limit.margin_k >= 0)


def study_point(
    lamp: Lamp,
    *,
    ambient_c: float | None = None,
    airflow: float = 1.0,
    request: float | dict[str, float] = 1.0,
    against: Lamp | None = None,
) -> PointStudy:
    """The operating point of ``lamp`` at rest.

    ``ambient_c`` [degC]: of all ambients, 25 degC by default; ``airflow`` [-]: factor as in a
    profile; ``request`` 0..1 of all channels, or by channel (others dark); ``against``: a lamp to
    hold beside it. Raises InputError for values out of range and lamps that cannot be computed.
    """
    raise NotImplementedError
