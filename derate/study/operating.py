"""A lamp to be asked for its rests: at a share of its command, in an ambient.

The command is one number, ``share``; the duty of a channel is the share times its entry of
``mix``. Above 1 the full currents are raised instead of the duties.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from derate.lamp.lamp import Lamp
from derate.plant.rest import Rest, Resting, resting
from derate.plant.steady import RUNAWAY_C
from derate.study.sense import Sense

Array = NDArray[np.float64]

HEAT_EXACT_K = 1e-7
"""The thermistors' own heat is found to within this of their temperature [K]."""
MOST_TURNS = 20
OVER = f"over {RUNAWAY_C:g} degC"
"""What acts where a lamp would rest hotter than any lamp can be."""


class Operating:
    """Rests of a lamp at an airflow, each computed once.

    ``mix``: per channel, the largest 1; ``limits_c`` (N): of every node, nan where there is none;
    ``senses``: the sensors in order, those given if they are the same as of another lamp.
    """

    def __init__(
        self,
        lamp: Lamp,
        airflow: float,
        requests: Mapping[str, float],
        senses: tuple[Sense, ...] | None = None,
        *,
        at_rest: bool = False,
    ) -> None:
        self.lamp, self.airflow, self.requests = lamp, airflow, dict(requests)
        self.senses = senses or tuple(Sense(lamp, name) for name in lamp.sensors)
        self.mix = mix_of(lamp, requests)
        self.resting = resting(lamp, airflow=airflow, at_rest=at_rest)
        self.limits_c = self.resting.limits_c
        self.names = self.resting.network.names
        self._driven: dict[float, Resting] = {}
        self._rests: dict[tuple[float, float], Rest] = {}
        self._sensor_heat_w = np.zeros(len(lamp.sensors))

    def changed(self, changes: Mapping[str, object]) -> "Operating":
        """The lamp with keys changed as in ``Lamp.with_changes``, none of its sensors'.

        A board that has to be made anew is made for the rest alone.
        """
        anew = any(key.startswith("board.") or key.endswith(".pad") for key in changes)
        lamp = self.lamp.with_changes(changes)
        return Operating(lamp, self.airflow, self.requests, self.senses, at_rest=anew)

    def at(self, share: float, ambient_c: float) -> Rest:
        """The rest at ``share`` of the command with every ambient at ``ambient_c`` [degC]."""
        key = (share, ambient_c)
        found = self._rests.get(key)
        if found is None:
            found = self._rests[key] = self._at(share, ambient_c)
        return found

    def under(self, duties: Array, ambient_c: float) -> Rest:
        """The rest at ``duties`` (C) [0..1] of their own, every ambient at ``ambient_c`` [degC]."""
        return self._with_own_heat(self.resting, duties, ambient_c)

    def node(self, name: str) -> int:
        """Index of a node, also of one of the board that is the same as another."""
        return self.resting.assembly.place[name]

    @property
    def sides(self) -> tuple[str, ...]:
        """The faces of the board that shed heat to an ambient, in the order of their surfaces."""
        board = self.lamp.board
        return tuple(side for side in ("front", "back") if board and getattr(board, side))

    def face(self, name: str) -> tuple[float, Array]:
        """Area of a face of the board [m^2], and its matrix (N, N) among all nodes [m^2]."""
        board, matrix_m2 = self.resting.assembly.board, np.zeros(2 * (len(self.names),))
        assert board is not None
        face = board.faces[name]
        nodes = [self.node(each) for each in board.names]
        matrix_m2[np.ix_(nodes, nodes)] = face.matrix_m2
        return face.area_m2, matrix_m2

    def hottest(self, rest: Rest) -> dict[str, int]:
        """The hottest junction node of each channel, with the ripple."""
        return {
            name: int(nodes[np.argmax(rest.peak_c[nodes])])
            for name, nodes in self.resting.junctions.items()
        }

    def margin_k(self, share: float, ambient_c: float) -> float:
        """How far the nearest limit is away [K], negative beyond it; -inf in a runaway."""
        return self.nearest(self.at(share, ambient_c))[0]

    def nearest(self, rest: Rest, among: Sequence[int] | None = None) -> tuple[float, int]:
        """Distance to the nearest limit [K] and its node; -inf and -1 in a runaway.

        ``among``: the nodes that are looked at, all by default.
        """
        if rest.runaway:
            return -np.inf, -1
        left_k = self.limits_c - rest.peak_c
        if among is not None:
            left_k[np.setdiff1d(np.arange(len(left_k)), among)] = np.nan
        node = int(np.nanargmin(left_k))
        return float(left_k[node]), node

    def acting(self, share: float, ambient_c: float) -> str:
        """What limits there: the name of a node, "runaway", or OVER."""
        rest = self.at(share, ambient_c)
        node = self.nearest(rest)[1]
        if rest.runaway:
            return OVER if rest.too_hot else "runaway"
        return self.names[node]

    def readings_c(self, rest: Rest) -> Array:
        """The mean reading of each sensor [degC], without the converter's steps."""
        if rest.runaway:
            return np.full(len(self.lamp.sensors), np.nan)
        thermistor_c = rest.node_c[self.resting.sensor_nodes]
        return np.array(
            [
                sense.smooth_c(float(at_c), sense.current_a(rest.duties))
                for sense, at_c in zip(self.senses, thermistor_c, strict=True)
            ]
        )

    def _at(self, share: float, ambient_c: float) -> Rest:
        return self._with_own_heat(*self._plant(share), ambient_c)

    def _with_own_heat(self, plant: Resting, duties: Array, ambient_c: float) -> Rest:
        """The rest with the heat that each thermistor's own current sets free in it.

        That heat follows the thermistor's temperature; both are found by Newton's method with the
        resistance that the thermistor's body sees.
        """
        ambients_c = np.full(len(self.lamp.ambients), ambient_c)
        first = len(plant.assembly.groups)
        span = slice(first, first + len(self.lamp.sensors))
        seen_k_per_w = np.diag(plant.standing.transfer)[span]
        heat_w = self._sensor_heat_w
        for _ in range(MOST_TURNS):
            rest = plant.rest(duties, ambients_c, sensor_heat_w=heat_w)
            if rest.runaway:
                return rest
            now_w = self._own_heat_w(rest.node_c[plant.sensor_nodes], heat_w, seen_k_per_w)
            if np.all(np.abs(now_w - heat_w) * seen_k_per_w <= HEAT_EXACT_K):
                break
            heat_w = now_w
        self._sensor_heat_w = heat_w
        return rest

    def _own_heat_w(self, thermistor_c: Array, heat_w: Array, seen_k_per_w: Array) -> Array:
        found = np.empty(len(heat_w))
        for s, sense in enumerate(self.senses):
            at_c, without_c = thermistor_c[s], thermistor_c[s] - heat_w[s] * seen_k_per_w[s]
            for _ in range(MOST_TURNS):
                found[s] = sense.chain.self_heat_w(at_c)
                moved_k = without_c + found[s] * seen_k_per_w[s] - at_c
                at_c += moved_k
                if abs(moved_k) <= 0.1 * HEAT_EXACT_K:
                    break
        return found

    def _plant(self, share: float) -> tuple[Resting, Array]:
        if share <= 1.0:
            return self.resting, share * self.mix
        if share not in self._driven:
            self._driven[share] = self.resting.driven(share)
        return self._driven[share], self.mix


def mix_of(lamp: Lamp, requests: Mapping[str, float]) -> Array:
    """The requests of all channels over the largest of them; all 1 where none asks for light."""
    asked = np.array([requests.get(name, 0.0) for name in lamp.channels])
    most = float(asked.max())
    return asked / most if most > 0 else np.ones(len(asked))
