"""The whole-number corridor: rounding is part of the condition, and nothing is lost or added."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from derate.sensing.corridor import (
    PRODUCT_LIMIT,
    RISE_LIMIT,
    STEEP,
    Cone,
    about,
    narrowed,
    whole_rises,
)
from tests.sensing.walls import corridors, follows


@given(walls=corridors(), data=st.data())
def test_a_cone_holds_exactly_the_rises_of_the_firmware(walls, data):
    """A whole rise is in the cone when every rounded reading is in the corridor, else not."""
    value = data.draw(st.integers(int(walls.low[0]), int(walls.high[0])))
    cone, run = Cone(-STEEP, 1, STEEP, 1), len(walls.low) - 1
    for k in range(1, run + 1):
        cone = narrowed(cone, k, int(walls.low[k]) - value, int(walls.high[k]) - value)
    least, most = whole_rises(cone, run, walls.falling, 0)
    sign = -1 if walls.falling else 1
    reach = int(np.max(np.abs(np.concatenate(walls[:2]) - value))) + 3
    for rise in range(0, sign * reach, sign):
        held = follows(walls, (0, value), (run, value + rise))
        assert held == (least <= rise <= most)


def test_rises_fit_the_arithmetic_of_the_firmware():
    """A wide cone is cut where a difference leaves 16 bits or a product 32 bits."""
    wide = Cone(-STEEP, 1, STEEP, 1)
    assert whole_rises(wide, 10, False, 1) == (1, RISE_LIMIT)
    _, most = whole_rises(wide, 60_000, False, 1)
    assert 2 * most * 60_000 + 60_000 <= PRODUCT_LIMIT < 2 * (most + 1) * 60_000 + 60_000
    assert whole_rises(wide, 60_000, True, 1) == (-most, -1)


def test_the_corridor_is_what_the_tolerance_allows():
    """Whole numbers within the tolerance, and only those, on both sides of the curve."""
    walls = about(np.array([10.4, 7.5, 3.0]), 2.0)
    assert walls.low.tolist() == [9, 6, 2]
    assert walls.high.tolist() == [12, 9, 4]
    assert walls.falling
