"""The board at rest: temperature field, best place of a thermistor, error of the model."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, eq=False)
class Spreading:
    """Closed-form estimate beside the model: solder node above the mean of the board [K/W]."""

    solder: str
    model_k_per_w: float
    estimate_k_per_w: float


@dataclass(frozen=True, eq=False)
class BoardPoint:
    """What is known of the board at the point.

    ``error``: of the reduced model (``derate.plant.board.lumped.Reduction``); ``field``: what
    ``derate.plant.board.maps.board_map`` gives at this rest, None in a runaway; ``places``: what
    ``sensor_map`` gives; ``spreading``: closed form beside model.
    """

    error: Any
    field: Any
    places: Any
    spreading: tuple[Spreading, ...]
