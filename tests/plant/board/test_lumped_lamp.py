"""The board of a lamp file as a small network: names, layers, what it is made anew for."""

import math

import numpy as np
import pytest

from derate.errors import InputError
from derate.lamp.board import Vias
from derate.plant.board.full import full_board
from derate.plant.board.lumped import distinct, lumped_board
from derate.plant.board.shapes import Rectangle
from derate.plant.board.spreading import Medium, rectangle_on_plate
from derate.plant.board.stack import (
    EVENLY,
    LEAST_SLICES,
    MOST_SLICES,
    base_m2_k_per_w,
    stack_of,
    vias_w_per_m_k,
)
from derate.plant.surface.exchange import exchange_of
from tests.plant.invented import CHANNEL, SENSOR, WHITE, lamp

ROUNDING = 1e-12
"""Relative: a few operations."""
TABLE = 2e-3
"""Relative: surfaces are looked up in a table, here computed from its formulas."""

BOARD = {
    "size_m": (0.03, 0.02),
    "copper": {"thickness_m": 35e-6},
    "dielectric": {"thickness_m": 100e-6, "conductivity_w_per_m_k": 2.2},
    "core": {"material": "aluminium_5052", "thickness_m": 1.5e-3},
    "interface": {"to": "sink", "area_resistance_m2_k_per_w": 50e-6},
    "front": {"facing": "up", "emissivity": 0.9},
}
LAMINATE = {
    "dielectric": None,
    "core": {"material": "fr4", "thickness_m": 1.6e-3},
    "bottom_copper": {"thickness_m": 35e-6},
    "vias": {"pitch_m": 1.2e-3, "drill_m": 3e-4, "plating_m": 25e-6},
}
LINKS = ({"between": ("sink", "ambient"), "resistance_k_per_w": 8.0},)
AT = ((8e-3, 7e-3), (20e-3, 9e-3))


def board_lamp(at=AT, *, sensor_at=(14e-3, 16e-3), second=(), links=LINKS, **changes):
    """An invented lamp with a board on a sink; ``second`` are the places of a second channel."""
    channel = {key: value for key, value in CHANNEL.items() if key != "solder_point"}
    channel |= {"pad_m": (6e-3, 5e-3)}
    channels = {"main": channel | {"at": at, "series": len(at)}}
    if second:
        channels["other"] = channel | {"at": second, "series": len(second)}
    board = {key: value for key, value in (BOARD | changes).items() if value is not None}
    return lamp(
        channels,
        emitters={"white": WHITE | {"footprint_m": (3e-3, 3e-3)}},
        board=board,
        nodes={"sink": {"capacitance_j_per_k": 60.0}},
        links=links,
        sensors={"ntc": SENSOR | {"at": sensor_at}},
    )


def test_names():
    """Kept nodes come first, as the lamp names them, then points of the board."""
    board = lumped_board(board_lamp())
    kept = ("board", "solder.main.1", "solder.main.2", "place.ntc")
    assert board.names[:4] == kept
    assert board.names[4:] == tuple(f"board.{k + 1}" for k in range(len(board.names) - 4))
    assert [board.index(name) for name in kept] == [0, 1, 2, 3]
    assert board.error.order == len(board.names) == len(board.capacitance_j_per_k)


def test_emitters_on_one_spot_share_a_node():
    """A second channel on the same spot is the same node by another name."""
    board = lumped_board(board_lamp(second=(AT[1],)))
    assert board.same == {"solder.other.1": "solder.main.2"}
    assert board.index("solder.other.1") == board.index("solder.main.2")
    assert "solder.other.1" not in board.names


def test_made_once_for_each_board():
    """The same board is not computed again, whatever else of the lamp changes."""
    first = board_lamp()
    board = lumped_board(first)
    assert lumped_board(first.with_changes({"nodes.sink.capacitance": 90.0})) is board
    for changes in (
        {"board.core.thickness": 2e-3},
        {"board.interface.area_resistance": 40e-6},
        {"channels.main.pad": (5e-3, 5e-3)},
        {"emitters.white.footprint": (2e-3, 3e-3)},
        {"sensors.ntc.at": (15e-3, 16e-3)},
        {"materials.aluminium_5052": {"conductivity": 150.0}},
    ):
        assert lumped_board(first.with_changes(changes)) is not board


def test_cells_too_wide_to_tell():
    """Heat shares that hang together are refused in one sentence, not solved wrongly."""
    shares = ([0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.25, 0.5, 0.25])
    names = ("board", "solder.main.1", "solder.main.2")
    heat = {name: np.array(share) for name, share in zip(names, shares, strict=True)}
    with pytest.raises(InputError, match=r"board\.cell: found cells too wide to tell"):
        distinct(heat)


def test_layers_of_a_metal_core():
    """Conductivities and heat come from the materials, the interface from its resistance."""
    stack = stack_of(board_lamp())
    assert stack.core[:3] == (1.5e-3, 138.0, 138.0)
    assert stack.core.heat_j_per_m3_k == pytest.approx(2680.0 * 880.0, rel=ROUNDING)
    assert stack.dielectric is not None
    assert stack.dielectric[:3] == (100e-6, 2.2, 2.2)
    assert stack.copper[:2] == (35e-6, 391.0)
    assert stack.exchange_w_per_m2_k["interface"] == pytest.approx(1 / 50e-6, rel=ROUNDING)
    assert stack.slices == LEAST_SLICES


def test_layers_of_a_laminate():
    """Vias count across, a core that conducts poorly across gets more slices, pads stand on it."""
    described = board_lamp(**LAMINATE)
    stack = stack_of(described)
    ring = math.pi * 25e-6 * (0.3e-3 - 25e-6)
    assert stack.vias_w_per_m_k == pytest.approx(391.0 * ring / 1.2e-3**2, rel=ROUNDING)
    assert stack.dielectric is None
    assert full_board(described).sheets[-1] == "copper on core"
    bare = stack_of(board_lamp(**LAMINATE | {"vias": None}))
    assert LEAST_SLICES < bare.slices <= MOST_SLICES


def test_filled_vias():
    """A filled via adds the conductance of its bore; a plating as thick as the bore fills it."""
    open_, solid = (
        Vias(pitch_m=1e-3, drill_m=3e-4, plating_m=plating) for plating in (25e-6, 149.999e-6)
    )
    bore = math.pi * (125e-6) ** 2 / 1e-3**2
    filled = vias_w_per_m_k(open_, 391.0, 58.0) - vias_w_per_m_k(open_, 391.0, 0.0)
    assert filled == pytest.approx(58.0 * bore, rel=1e-9)
    assert vias_w_per_m_k(solid, 391.0, 0.0) == pytest.approx(
        391.0 * math.pi * (150e-6) ** 2 / 1e-3**2, rel=1e-4
    )


def test_faces_exchange_what_surfaces_do():
    """The reference film of the front is that of the surface tables, per area."""
    described = board_lamp()
    board = lumped_board(described)
    surfaces = exchange_of(described, {"sink": 0, "board": 1})
    assert board.exchange_w_per_m2_k["front"] * board.faces["front"].area_m2 == pytest.approx(
        surfaces.reference_w_per_k[0], rel=TABLE
    )


def test_a_board_that_only_links_cool():
    """Without interface and faces the patterns are made for a film over the back."""
    to_sink = {"between": ("board", "sink"), "resistance_k_per_w": 0.5}
    board = lumped_board(board_lamp(interface=None, front=None, links=(*LINKS, to_sink)))
    assert set(board.faces) == {"front", "back", "edge"}
    assert set(board.exchange_w_per_m2_k) == {"back"}
    assert board.error.transient < 0.01


def test_the_plate_below():
    """The partner's plate adds spreading from the board to all of it, and its own thickness."""
    base = {"size_m": (0.06, 0.05), "thickness_m": 3e-3, "material": "aluminium_6061"}
    interface = BOARD["interface"] | {"base": base}
    mounted = board_lamp(interface=interface)
    source = Rectangle(0.03, 0.025, 0.03, 0.02)
    medium = Medium(167.0, thickness_m=3e-3, film_w_per_m2_k=EVENLY)
    spreading = rectangle_on_plate((0.06, 0.05), source, medium)
    expected = (spreading + 3e-3 / 167.0 / 0.003) * 0.03 * 0.02
    assert base_m2_k_per_w(mounted) == pytest.approx(expected, rel=ROUNDING)
    board = lumped_board(mounted)
    assert board.base_m2_k_per_w == pytest.approx(expected, rel=ROUNDING)
    assert board.exchange_w_per_m2_k["interface"] == pytest.approx(
        1 / (50e-6 + expected), rel=ROUNDING
    )
    assert lumped_board(board_lamp()).base_m2_k_per_w == 0.0


def test_points_lie_on_the_board():
    """Every further node is a cell of the board and says where."""
    described = board_lamp()
    board = lumped_board(described)
    assert described.board is not None
    x_m, y_m = board.points_m[4:].T
    assert described.board.inside(x_m, y_m).all()
    rows = [board.shape[_cell(board, *at)] for at in board.points_m[4:]]
    names = np.eye(len(board.names))[4:]
    for row, name in zip(rows, names, strict=True):
        assert np.abs(row - name).max(axis=1).min() < 1e-9


def _cell(board, x_m, y_m):
    return np.flatnonzero((board.full.x_m == x_m) & (board.full.y_m == y_m))
