"""One series string with a switch across each channel: what the switches cost."""

import numpy as np
import pytest

from derate.plant.network import assemble
from derate.plant.plant import Plant
from tests.plant.invented import CHANNEL, drive, lamp

ROUNDING = 1e-12
"""Relative: the same sum in another order."""
ENERGY = 1e-9
"""Relative: what the plant promises."""
RESISTANCE_OHM, SWITCHING_J, FREQUENCY_HZ = 0.025, 3e-6, 400.0
CHANNELS = {"one": CHANNEL, "two": CHANNEL | {"series": 2}}


def string(node="sink", **driver):
    """Two channels of one string, the switches on ``node``."""
    bypass = {"resistance_ohm": RESISTANCE_OHM, "switching_j": SWITCHING_J, "node": node}
    return lamp(CHANNELS, driver={"frequency_hz": FREQUENCY_HZ, "bypass": bypass, **driver})


def powers(duties, **driver):
    """Heat of the switches and power drawn for each channel at the first instant [W]."""
    plant = Plant(string(**driver))
    drive(plant, 1e-9, duties)
    return plant.tally.heat_j[-1] / 1e-9, plant.electrical_w.copy()


def test_conduction_and_switching():
    """(1 - d) I^2 R in each closed switch, E f in each that switches, none in one left open."""
    heat_w, _ = powers([0.25, 1.0])
    conduction_w = 0.75 * 0.7**2 * RESISTANCE_OHM
    assert heat_w == pytest.approx(conduction_w + SWITCHING_J * FREQUENCY_HZ, rel=ROUNDING)
    heat_w, _ = powers([0.0, 1.0])
    assert heat_w == pytest.approx(0.7**2 * RESISTANCE_OHM, rel=ROUNDING)
    assert powers([1.0, 1.0])[0] == 0.0


def test_no_current_in_a_dark_lamp():
    """With every duty at zero the string is off and its switches stay cold."""
    heat_w, electrical_w = powers([0.0, 0.0])
    assert heat_w == 0.0
    assert electrical_w.sum() == 0.0


def test_the_supply_pays_for_the_switches():
    """What the switches lose is drawn from the supply, the driver's efficiency on top."""
    plain = Plant(lamp(CHANNELS, driver={"efficiency": 0.9}))
    drive(plain, 1e-9, [0.25, 0.6])
    heat_w, electrical_w = powers([0.25, 0.6], efficiency=0.9)
    assert electrical_w.sum() - plain.electrical_w.sum() == pytest.approx(heat_w / 0.9, rel=1e-9)


def test_driver_loss_counts_what_it_feeds():
    """The driver's loss is its share of emitters and switches together."""
    plant = Plant(string(efficiency=0.8, heat_node="board"))
    drive(plant, 1e-9, [0.25, 0.6])
    loss_j, switches_j = plant.tally.heat_j[-2:]
    assert loss_j == pytest.approx(0.2 * plant.tally.electrical_j[0], rel=1e-9)
    assert switches_j > 0.0


def test_energy_balance():
    """Heat of emitters and switches = stored + given off, wherever the switches sit."""
    for node in ("sink", "board"):
        plant = Plant(string(node))
        start_c = plant.node_c.copy()
        for duties, dt_s in (([1.0, 0.2], 3.0), ([0.0, 0.7], 40.0), ([0.0, 0.0], 5.0)):
            drive(plant, dt_s, duties)
        capacity = assemble(plant.lamp).capacitance_j_per_k
        heat_j = plant.tally.heat_j.sum()
        left_j = (capacity @ (plant.node_c - start_c)).sum() + plant.tally.ambient_j.sum()
        assert heat_j == pytest.approx(left_j, rel=ENERGY)


def test_switches_without_a_node_warm_nothing():
    """Where the lamp file does not say where the switches sit their loss is drawn and gone."""
    told, silent = Plant(string()), Plant(string(None))
    assert len(silent.tally.heat_j) == len(told.tally.heat_j) - 1
    drive(silent, 10.0, [0.5, 0.5])
    drive(told, 10.0, [0.5, 0.5])
    assert silent.tally.electrical_j[0] == pytest.approx(told.tally.electrical_j[0], rel=1e-4)
    assert np.all(silent.node_c < told.node_c)
