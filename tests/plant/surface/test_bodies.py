"""From the lamp file to what is computed: which surfaces, in which order, of which shape."""

import math
from pathlib import Path

import pytest

from derate.lamp import load
from derate.lamp.board import Board, Face
from derate.plant.surface import bank
from derate.plant.surface.bodies import bodies_of, face_of
from derate.plant.surface.climate import climate_of
from derate.plant.surface.exchange import exchange_of
from derate.plant.surface.flat import area_m2
from tests.plant.surface.invented import BOX, FAN, FINS, KINDS, PLATE, WET, body

BOARD_LAMP = Path(__file__).parents[2] / "lamp" / "board_lamp.toml"
ROUNDING = 1e-9
"""Relative."""
LAYERS = {
    "core": {"material": "fr4", "thickness_m": 1.6e-3},
    "copper": {"thickness_m": 35e-6},
    "front": {"facing": "up", "emissivity": 0.9},
}


def test_surfaces_first_then_the_faces_of_the_board():
    """Order of the file, front, back; faces belong to node "board", ambients as written."""
    lamp = load(BOARD_LAMP)
    bodies = bodies_of(lamp)
    faces = [side for side in ("front", "back") if getattr(lamp.board, side) is not None]
    assert faces
    expected = [f"surfaces.{name}" for name in lamp.surfaces] + [f"board.{s}" for s in faces]
    assert [one.key for one in bodies] == expected
    index = {name: 10 + i for i, name in enumerate(lamp.named_nodes)}
    exchange = exchange_of(lamp, index)
    assert list(exchange.node) == [index[one.node] for one in bodies]
    assert list(exchange.ambient) == [list(lamp.ambients).index(one.ambient) for one in bodies]
    assert {one.node for one in bodies[len(lamp.surfaces) :]} == {"board"}


@pytest.mark.parametrize(
    ("shape", "area", "around"),
    [
        ({"size_m": (0.06, 0.04)}, 2.4e-3, 0.2),
        ({"size_m": (0.04, 0.06)}, 2.4e-3, 0.2),
        (
            {"outline_m": ((0.0, 0.0), (0.06, 0.0), (0.0, 0.04))},
            1.2e-3,
            0.1 + math.hypot(0.06, 0.04),
        ),
        ({"diameter_m": 0.06}, math.pi * 9e-4, math.pi * 0.06),
    ],
)
def test_a_face_of_the_board_has_the_shape_of_the_board(shape, area, around):
    """Its area and that of the edge, area over perimeter, and the longer side along the flow."""
    found = face_of(Board.model_validate(LAYERS | shape), Face(facing="up"))
    edge = LAYERS["core"]["thickness_m"] * around
    assert found.area_m2 == pytest.approx(area + edge, rel=ROUNDING)
    assert found.lying_m == pytest.approx(area / around, rel=ROUNDING)
    assert (found.along_m, found.height_m) == pytest.approx((0.06, 0.06), rel=ROUNDING)


def test_holes_shed_nothing():
    """A hole takes its area off the face."""
    whole = LAYERS | {"size_m": (0.06, 0.04)}
    pierced = whole | {"holes": ({"at": (0.02, 0.01), "diameter_m": 4e-3},)}
    less = [face_of(Board.model_validate(b), Face(facing="up")).area_m2 for b in (whole, pierced)]
    assert less[0] - less[1] == pytest.approx(math.pi * 4e-6, rel=ROUNDING)


def test_nothing_radiates_in_water():
    """Water lets no radiation through."""
    for part in (PLATE, BOX, FINS):
        assert body(part).black_m2 > 0.0
        assert body(part | WET).black_m2 == 0.0


def test_a_box_has_six_faces():
    """All its area sheds and radiates: four upright walls, one lid up and one down."""
    box = body(BOX)
    width, depth, height = BOX["size_m"]
    whole = 2.0 * (width * depth + width * height + depth * height)
    assert area_m2(box.shape) == pytest.approx(whole, rel=ROUNDING)
    assert box.black_m2 == pytest.approx(BOX["emissivity"] * whole, rel=ROUNDING)
    assert sorted(face.facing for face in box.shape) == ["down", *["side"] * 4, "up"]
    assert {face.along_m for face in box.shape} == {max(width, depth)}


def test_a_fan_stands_for_its_operating_point():
    """Between the fins it sheds like an airflow of the speed at its operating point."""
    fan = body(FINS | {"fan": FAN})
    climate = climate_of(fan.fluid, 40.0, 25.0, 1.0)
    speed = float(bank.speed_m_per_s(fan.shape, climate))
    assert speed > 0.5
    blown = body(FINS | {"airflow_m_per_s": speed})
    inside = [bank.films_of(one.shape, climate).inside for one in (fan, blown)]
    assert inside[0] == pytest.approx(inside[1], rel=ROUNDING)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_airflow_reaches_what_has_a_speed_or_a_fan(kind):
    """Only those surfaces ask for the airflow."""
    assert body(KINDS[kind]).moved == bool({"airflow_m_per_s", "fan"} & set(KINDS[kind]))
