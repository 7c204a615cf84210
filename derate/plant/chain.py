"""The chains of resistance and capacity that the lamp file gives for emitters and links.

All are laid as Cauer ladders, whose inner points are nodes: a stage is a node's capacity and the
resistance after it.
"""

from derate.lamp.emitter import Emitter
from derate.lamp.ladder import Ladder
from derate.lamp.lamp import Lamp
from derate.plant.emitter import real_factor
from derate.plant.wiring import Stage


def stages_of(ladder: Ladder, factor: float = 1.0) -> list[Stage]:
    """The stages of a ladder, its resistances times ``factor`` and its time constants kept."""
    resistance, capacitance = ladder.resistance_k_per_w, ladder.capacitance_j_per_k
    if ladder.form == "foster":
        from derate.plant.ladder import foster_to_cauer

        stages = foster_to_cauer(resistance, capacitance)
        resistance = tuple(stages.resistance_k_per_w.tolist())
        capacitance = tuple(stages.capacitance_j_per_k.tolist())
    return [(r * factor, c / factor) for r, c in zip(resistance, capacitance, strict=True)]


def emitter_stages(lamp: Lamp, name: str) -> list[Stage]:
    """From the junction of an emitter to the node it is soldered to, joint included.

    What the lamp file gives per electrical watt is converted to heat that flows (``real_factor``);
    the joint is not, being no part of the emitter.
    """
    emitter = lamp.emitters[name]
    factor = real_factor(emitter)
    if emitter.ladder is not None:
        stages = stages_of(emitter.ladder, factor)
    else:  # the lamp file's validation promises the one or the other
        resistance = emitter.junction_to_solder_resistance_k_per_w or 0.0
        stages = [(resistance * factor, emitter.junction_capacitance_j_per_k or 0.0)]
    resistance, capacitance = stages[-1]
    return [*stages[:-1], (resistance + joint_k_per_w(lamp, emitter), capacitance)]


def joint_k_per_w(lamp: Lamp, emitter: Emitter) -> float:
    """Resistance of the solder joint below an emitter [K/W], 0 without one.

        R = t / (k A (1 - voids))

    t thickness [m], k conductivity across it [W/(m K)], A area of the footprint [m^2]. Voids take
    their share of the area away; that the heat also has to go round them is left out.
    """
    if emitter.solder is None or emitter.footprint_m is None:
        return 0.0
    conductivity = lamp.material_of(emitter.solder).through_conductivity_w_per_m_k
    area_m2 = emitter.footprint_m[0] * emitter.footprint_m[1]
    return emitter.solder.thickness_m / (conductivity * area_m2 * (1.0 - emitter.solder.voids))
