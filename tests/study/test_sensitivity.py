"""What a percent does: the adjoint against lamps with the key changed and solved again."""

import pytest

from derate.study.sensitivity import LEAST_K, Adjoint, helps
from tests.plant.board.in_air import LAMINATE, METAL_CORE, ONE, airy
from tests.study.lamps import DRAWN, demo, made, operating, shedding

STEP = 1e-3
"""Relative change of a key, up and down: what bends is a millionth of what is straight."""
AGREEMENT = 1e-3
"""Relative: differences against the adjoint, where both know the same network."""
TABLES = 0.03
"""Relative: a surface's formulas against the slope of its tables."""
REDUCED = 5e-3
"""Relative: two boards reduced anew, in another wind than they are exact in."""
BY_KEY = {"surfaces": TABLES, "board.front": TABLES, "board.back": TABLES, "board": REDUCED}
SMALL_K = 1e-5
"""Kelvin per percent below which differences drown in the rounding of reduced boards."""
AIRFLOW = 0.4


def value_of(lamp, key):
    """The value of a key as the lamp holds it, and the key of its number in the file."""
    part = lamp
    for step in key.split("."):
        if isinstance(part, tuple):
            part = next(p for i, p in enumerate(part) if step in (p.name, str(i)))
        elif isinstance(part, dict):
            part = part[step]
        else:
            named = [f for f in type(part).model_fields if f == step or f.startswith(f"{step}_")]
            part = getattr(part, min(named, key=len))
    return part


def scaled(value, factor):
    """A number, or each of several, times a factor."""
    return [v * factor for v in value] if isinstance(value, tuple) else value * factor


def differences_k(lamp, key, ambient_c):
    """Change of each node per percent of a key, from two changed lamps solved again."""
    found = []
    for factor in (1 + STEP, 1 - STEP):
        changed = lamp.with_changes({key: scaled(value_of(lamp, key), factor)})
        ready = operating(changed, AIRFLOW)
        node_c = ready.at(1.0, ambient_c).node_c
        found.append({name: node_c[i] for name, i in ready.resting.assembly.place.items()})
    return {name: 0.01 * (c - found[1][name]) / (2 * STEP) for name, c in found[0].items()}


def blown(fins=7):
    """Fins with a fan, the rest as ever."""
    fan = {"flow": "12 m^3/h", "pressure": "25 Pa"}
    return shedding().with_changes({"surfaces.fins.fan": fan, "surfaces.fins.fins": fins})


def cases():
    """Lamps of given networks, with surfaces, and with a board."""
    return {
        "given": made(driver={"efficiency": 0.9, "heat_node": "sink"}),
        "two branches": demo("stage_wash"),
        "surfaces": shedding(driver={"dimming": "current"}),
        "fan": blown(),
        "board": demo(DRAWN),
        "laminate in air": airy(LAMINATE, **ONE),
        "metal core in air": airy(METAL_CORE, **ONE),
    }


@pytest.mark.parametrize("name", cases())
def test_adjoint_against_solving_again(name):
    """Every quantity that is a key moves junction and nodes as a changed lamp says."""
    lamp = cases()[name]
    ready = operating(lamp, AIRFLOW)
    rest = ready.at(1.0, 30.0)
    known = {}
    for node in (
        ready.names[ready.resting.first_junction],
        [*lamp.nodes, "board"][max(len(lamp.nodes) - 1, 0)],
    ):
        listed = [one for one in helps(ready, rest, ready.node(node)) if one.key]
        listed = [one for one in listed if not one.key.endswith(".fins")]
        assert len(listed) >= 3
        listed = listed[:: 3 if name == "board" else 1]  # each key makes two boards
        for one in listed:
            if one.key not in known:
                known[one.key] = differences_k(lamp, one.key, 30.0)
            share = next((s for key, s in BY_KEY.items() if one.key.startswith(key)), AGREEMENT)
            expected_k = known[one.key][node]
            assert one.per_percent_k == pytest.approx(expected_k, rel=share, abs=SMALL_K), one


def test_area_counts_as_the_whole_heat():
    """A percent more area sheds a percent more, as a known surface of that much less resistance."""
    lamp = shedding()
    ready = operating(lamp)
    junction = ready.resting.first_junction
    listed = helps(ready, ready.at(1.0, 25.0), junction)
    known = next(one for one in listed if one.key == "surfaces.bracket.resistance")
    expected_k = differences_k(lamp, known.key, 25.0)[ready.names[junction]]
    assert known.per_percent_k == pytest.approx(expected_k, rel=TABLES)
    whole = {one.what: one.per_percent_k for one in listed}
    assert whole["area of surface fins"] < whole["fin height of surface fins"] < 0.0
    assert whole["area of surface fins"] < whole["emissivity of surface fins"] < 0.0


def test_the_number_of_fins():
    """A percent of 25 fins is a quarter of what a fin more does, taken from 24 and 26."""
    found = []
    for fins in (24, 25, 26):
        ready = operating(blown(fins), AIRFLOW)
        node = ready.resting.first_junction
        found.append((ready, node, ready.at(1.0, 30.0)))
    expected_k = 0.25 * 0.5 * (found[2][2].node_c[node] - found[0][2].node_c[node])
    listed = {one.key: one.per_percent_k for one in helps(found[1][0], found[1][2], node)}
    assert listed["surfaces.fins.fins"] == pytest.approx(expected_k, rel=TABLES)
    assert listed["surfaces.fins.fan.flow"] < 0.0


def test_strongest_first_and_nothing_that_does_nothing():
    """The list falls, and what moves the node by less than a millikelvin a mille is not in it."""
    ready = operating(demo("stage_wash"))
    effects = [abs(one.per_percent_k) for one in helps(ready, ready.at(1.0, 25.0), 0)]
    assert effects == sorted(effects, reverse=True)
    assert min(effects) >= LEAST_K


def test_the_heat_that_follows_counts():
    """A watt into a node warms the junction by its resistance and the gain of the loop."""
    ready = operating(made())
    rest = ready.at(1.0, 25.0)
    junction = ready.resting.first_junction
    adjoint = Adjoint(ready, rest, junction)
    plain = ready.resting.reach[junction, 0]
    gain = ready.resting.loop_gain(rest.slopes_w_per_k)
    assert abs(gain) > 0.005  # this emitter gives less heat when warm: the loop holds back
    assert adjoint.rise_k_per_w[junction] == pytest.approx(plain / (1 - gain), rel=1e-9)
    assert adjoint.at("ambient") == 0.0
