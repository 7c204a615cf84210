"""Where the power of a lamp at rest goes, checked against what is put in."""

import numpy as np

from derate.plant.rest import Rest
from derate.study.operating import Operating
from derate.study.operation import Power


def power_of(lamp: Operating, rest: Rest) -> Power:
    """The books of a lamp at rest."""
    driver, groups = lamp.lamp.driver, len(lamp.resting.assembly.groups)
    sensors_w = float(rest.heat_w[groups : groups + len(lamp.lamp.sensors)].sum())
    supply_w, electrical_w = float(rest.supply_w.sum()), float(rest.electrical_w.sum())
    heat_w = float(rest.heat_w[:groups].sum())
    bypass_w = float(rest.bypass_w.sum())
    loss_w = supply_w - electrical_w - bypass_w
    elsewhere_w = 0.0 if driver.heat_node else loss_w
    if driver.bypass and not driver.bypass.node:
        elsewhere_w += bypass_w
    ambient_w = rest.ambient_w
    light_lm = float(rest.light_lm.sum())
    left_w = electrical_w - heat_w + float(ambient_w.sum()) + elsewhere_w
    return Power(
        supply_w=supply_w,
        sensors_w=sensors_w,
        driver_loss_w=loss_w,
        bypass_w=bypass_w,
        heat_w=heat_w,
        radiant_w=electrical_w - heat_w,
        ambient_w=dict(zip(lamp.lamp.ambients, ambient_w.tolist(), strict=True)),
        elsewhere_w=elsewhere_w,
        residual_w=supply_w + sensors_w - left_w,
        light_lm=light_lm,
        efficacy_lm_per_w=light_lm / supply_w if supply_w > 0.0 else np.nan,
    )
