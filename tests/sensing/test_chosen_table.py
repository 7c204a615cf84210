"""Whatever table is chosen, budget, units and threshold are those of that table."""

import numpy as np
import pytest

from derate.errors import InputError
from derate.sensing.bare import table
from derate.sensing.budget import budget
from derate.sensing.circuit import from_lamp
from derate.sensing.lookup import healthy_codes, ideal_reading_c
from derate.sensing.montecarlo import confirm
from derate.sensing.prepared import study
from derate.sensing.reading_table import readings
from derate.sensing.tables import KINDS, build_table
from derate.sensing.threshold import threshold
from tests.sensing.toleranced import exact, named, toleranced

SMALL_BYTES = (16, 30, 60)
ROUNDING_K = 1e-9
RANGE_C = (-40.0, 125.0)


def chosen_of(made, kind, most):
    """The best table of a kind in so many bytes; of "direct", whatever it takes."""
    limit = {} if kind == "direct" else {"max_bytes": most}
    return build_table(from_lamp(made), made.thermistor.range_c, kind=kind, **limit)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("most", SMALL_BYTES)
def test_the_true_error_is_inside_the_table_row(kind, most):
    """At every temperature the error of the chosen table at its code is in its contribution."""
    made = exact()
    chosen = chosen_of(made, kind, most)
    circuit = from_lamp(made)
    codes = healthy_codes(circuit, RANGE_C)
    middle_c = ideal_reading_c(circuit, codes)
    inside = (middle_c >= RANGE_C[0]) & (middle_c <= RANGE_C[1])
    codes, middle_c = codes[inside][::7], middle_c[inside][::7]
    wrong_k = readings(chosen, codes) / chosen.scale - middle_c
    row = named(budget(made, middle_c, table=chosen), "table")
    assert np.all(row.worst_low_k - ROUNDING_K <= wrong_k)
    assert np.all(wrong_k <= row.worst_high_k + ROUNDING_K)
    assert max(np.max(row.worst_high_k), -np.min(row.worst_low_k)) <= chosen.error_k + ROUNDING_K


def test_code_steps_in_60_bytes_err_by_kelvins_in_the_cold():
    """The 60 bytes of code steps miss -35 degC by more than 2 K, and the budget says so."""
    made = exact()
    chosen = chosen_of(made, "code steps", 60)
    row = named(budget(made, -35.0, table=chosen), "table")
    assert row.worst_low_k[0] < -2.0
    assert named(budget(made, -35.0), "table").worst_low_k[0] > -0.2


@pytest.mark.parametrize("kind", KINDS)
def test_units_read_the_chosen_table_inside_its_corners(kind):
    """No drawn unit leaves the corners, which a coarse table widens as it does the units."""
    made = toleranced()
    found = budget(made, [-35.0, 0.0, 60.0], table=chosen_of(made, kind, 30))
    units = confirm(found, units=400)
    assert units.inside
    coarse = kind != "direct"
    fine = confirm(budget(made, [-35.0, 0.0, 60.0]), units=400)
    differs = np.abs(units.most_k - fine.most_k) > 0.2
    assert np.any(differs) == coarse


def test_at_worst_is_the_wider_of_sum_and_unit():
    """Neither the worst sum nor the worst unit lies beyond what is said to be at worst."""
    made = toleranced()
    found = budget(made, table=chosen_of(made, "code steps", 30))
    assert np.all(found.at_worst_low_k == np.minimum(found.worst_low_k, found.corner_low_k))
    assert np.all(found.at_worst_high_k == np.maximum(found.worst_high_k, found.corner_high_k))
    assert np.any(found.at_worst_high_k > found.corner_high_k)


def test_the_study_holds_the_table_given():
    """Nothing is rebuilt; without one it is the controller's."""
    made = exact()
    chosen = chosen_of(made, "code steps", 30)
    assert study(made, table=chosen).table is chosen
    assert study(made).table.kind == "placed knots"


def test_the_threshold_takes_the_window_of_the_table():
    """The fault codes of the threshold are those of the table, the open side with a direction."""
    made = exact()
    chosen = chosen_of(made, "direct", 0)
    moved = chosen._replace(window=chosen.window._replace(high_code=3800))
    assert threshold(made, 85.0).open_code == chosen.window.high_code
    assert threshold(made, 85.0, table=moved).open_code == 3800


@pytest.mark.parametrize(("arrangement", "direction"), [("pull-up", ">="), ("pull-down", "<=")])
def test_the_open_side_of_a_threshold(arrangement, direction):
    """An open thermistor looks cold: it is at the end of the codes that hot is not."""
    found = threshold(exact(arrangement), 85.0)
    assert found.open_direction == direction != found.direction
    open_code = 4095 if arrangement == "pull-up" else 0
    beyond = open_code >= found.open_code if direction == ">=" else open_code <= found.open_code
    assert beyond


BARE = {
    "thermistor": {"b_value": "3950 K", "resistance_25": "10 kohm"},
    "divider": {
        "arrangement": "pull-up",
        "resistor": "10 kohm",
        "supply": "3.3 V",
        "reference": "ratiometric",
    },
    "adc": {"bits": 12},
}
"""An invented sensor as a lamp file would write it."""


def test_without_a_kind_the_refusal_names_the_least():
    """No table of any kind: the least error or size is told, and is then granted."""
    with pytest.raises(InputError, match=r"no table of any kind .* 0.004 K; the least .* 0.005 K"):
        table(BARE, max_error=0.004)
    with pytest.raises(InputError, match=r"no table of any kind .* 6 bytes; the least .* 8 bytes"):
        table(BARE, max_bytes=6)
    assert table(BARE, max_bytes=8).table.bytes == 8


@pytest.mark.parametrize("error_k", [0.0, -0.1])
def test_an_error_must_be_above_zero(error_k):
    """Nothing is taken for the default, and no table without error is looked for."""
    with pytest.raises(InputError, match="due an error above zero"):
        table(BARE, max_error=error_k)
    with pytest.raises(InputError, match="due one above zero"):
        build_table(from_lamp(exact()), RANGE_C, max_error_k=error_k)
