"""The board at rest: temperature field, best place of a thermistor, error of the model."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from derate.plant.rest import Rest
from derate.study.operating import Operating

if TYPE_CHECKING:
    from derate.plant.board.maps import BoardMap, SensorMap
    from derate.plant.board.reduce import Reduction


@dataclass(frozen=True, eq=False)
class Spreading:
    """Closed-form estimate beside the model: solder node above the mean of the board [K/W].

    For a watt into that node alone.
    """

    solder: str
    model_k_per_w: float
    estimate_k_per_w: float


@dataclass(frozen=True, eq=False)
class BoardPoint:
    """What is known of the board at the point.

    ``error``: what the reduced model leaves out; ``field``: temperatures, None in a runaway;
    ``places``: what a thermistor would miss where, None in a runaway or without light;
    ``spreading``: closed form beside model.
    """

    error: "Reduction"
    field: "BoardMap | None"
    places: "SensorMap | None"
    spreading: tuple[Spreading, ...]


def board_point(lamp: Operating, rest: Rest) -> BoardPoint | None:
    """The board of a lamp at rest, None for a lamp without one."""
    board = lamp.resting.assembly.board
    if board is None:
        return None
    from derate.plant.board.maps import board_map, sensor_map

    field, places = None, None
    if not rest.runaway:
        node_c = {name: float(rest.node_c[lamp.node(name)]) for name in board.names}
        field, places = board_map(lamp.lamp, node_c), sensor_map(lamp.resting, rest)
    return BoardPoint(board.error, field, places, tuple(_spreading(lamp)))


def _spreading(lamp: Operating) -> Iterator[Spreading]:
    from derate.plant.board.estimate import quick_estimate

    network, mean = lamp.resting.network, lamp.node("board")
    for solder, estimate in quick_estimate(lamp.lamp).items():
        heat_w = np.zeros(len(lamp.names))
        heat_w[lamp.node(solder)] = 1.0
        rise_k = np.linalg.solve(network.conductance_w_per_k, heat_w)
        yield Spreading(solder, float(rise_k[lamp.node(solder)] - rise_k[mean]), estimate)
