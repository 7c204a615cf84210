"""Boards that shed heat by their own faces, and their rest by all cells, independently of any
reduction."""

import numpy as np
import scipy.sparse as sparse

from derate.plant.board.answers import factors
from derate.plant.board.lumped import lumped_board
from derate.plant.surface.bodies import bodies_of, face_of
from tests.plant.invented import PLACED, SENSOR, SOLDERED, lamp

STEFAN_BOLTZMANN_W_PER_M2_K4, KELVIN = 5.670374419e-8, 273.15
FACE = {"facing": "side", "emissivity": 0.9}
LAMINATE = {"core": {"material": "fr4", "thickness_m": 1.6e-3}}
METAL_CORE = {
    "core": {"material": "aluminium_5052", "thickness_m": 1.5e-3},
    "dielectric": {"thickness_m": 100e-6, "conductivity_w_per_m_k": 2.2},
}
ONE = {"size_m": (40e-3, 30e-3), "at": ((20e-3, 15e-3),), "sensor": (35e-3, 25e-3)}
THREE = {
    "size_m": (60e-3, 40e-3),
    "at": ((15e-3, 12e-3), (40e-3, 15e-3), (30e-3, 30e-3)),
    "sensor": (42e-3, 28e-3),
}
SETTLED_K = 1e-7


def airy(board, *, size_m, at, sensor, speed_m_per_s=3.0, current_a=0.2):
    """A lamp that is nothing but a board in air, on edge."""
    face = FACE | ({"airflow_m_per_s": speed_m_per_s} if speed_m_per_s else {})
    described = {
        "size_m": size_m,
        "cell_m": 1e-3,
        "copper": {"thickness_m": 35e-6},
        "front": face,
        "back": face,
    }
    channel = {"series": len(at), "at": at, "pad_m": (10e-3, 10e-3), "current_a": current_a}
    return lamp(
        {"main": PLACED | channel},
        emitters={"white": SOLDERED},
        sensors={"ntc": SENSOR | {"at": sensor}},
        nodes={},
        links=(),
        board=described | board,
    )


def rest_of_cells_c(described, watt, airflow, ambient_c=25.0):
    """Temperature of each kept node [degC] by all cells for ``watt`` into kept nodes.

    Every face convects by its mean temperature, each cell radiates by its own.
    """
    full, board = lumped_board(described).full, described.board
    heat = sum(each_w * full.heat[node] for node, each_w in watt.items())
    at_c, bodies = np.full(len(heat), ambient_c + 10.0), bodies_of(described)
    for _ in range(100):
        shed = np.zeros(len(heat))
        for body in bodies:
            area_m2 = full.faces_m2[body.key.removeprefix("board.")]
            mean_c = np.array(area_m2 @ at_c / area_m2.sum())
            whole_m2 = face_of(board, board.faces[body.key.removeprefix("board.")]).area_m2
            whole_w = body.heat_w(mean_c, np.array(ambient_c), np.array(airflow))
            each = float(whole_w) / (mean_c - ambient_c) / whole_m2
            black = body.black_m2 / whole_m2
            radiated = _radiating(at_c, ambient_c) - _radiating(mean_c, ambient_c)
            shed += (each + black * radiated) * area_m2
        conductance = full.conductance_w_per_k({}) + sparse.diags_array(shed)
        before, at_c = at_c, factors(conductance).solve(heat) + ambient_c
        if np.abs(at_c - before).max() < SETTLED_K:
            return {node: float(share @ at_c) for node, share in full.heat.items()}
    raise AssertionError("the cells did not settle")


def _radiating(at_c, ambient_c):
    """What a black area radiates per kelvin of its rise [W/(m^2 K)]."""
    here_k, outside_k = at_c + KELVIN, ambient_c + KELVIN
    squares = here_k**2 + outside_k**2
    return STEFAN_BOLTZMANN_W_PER_M2_K4 * squares * (here_k + outside_k)
