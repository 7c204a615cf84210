"""Thermal impedance: how far one watt, switched on at one node, lifts another after a time.

    Z(t) = Z_0 + sum of R_k (1 - exp(-t / tau_k)),    R_k = response_k drive_k tau_k

over the modes k of the network: drive_k what a watt pushes into a mode, response_k what the mode
adds to the node. Z_0 [K/W] is there at once, only where massless nodes let heat pass. All ambients
stay as they are. Against a reference node X the drop between the two is meant, as in the JEDEC
dictionary's Z_thetaJX = (T_Jf - T_Ji - dT_X) / P_H (jedec.org, from JESD24-3 and JESD24-4). The
heating power P_H is what enters the junction: for an LED electrical power less radiant flux.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from derate.errors import InputError
from derate.lamp.sentence import nearest, shown
from derate.plant.ladder import Stages
from derate.plant.modes import modes_of
from derate.plant.network import Network

Array = NDArray[np.float64]

FELT = 1e-12
"""Part of the whole resistance [-] below which a mode's share is rounding."""


@dataclass(frozen=True, eq=False)
class Impedance:
    """A step response in kelvin per watt as a sum over modes, the fastest first."""

    resistance_k_per_w: Array
    time_constant_s: Array
    at_once_k_per_w: float

    def after(self, time_s: ArrayLike) -> Array:
        """Z [K/W] at times [s] since the watt was switched on, in the shape of ``time_s``."""
        passed = -np.expm1(-np.asarray(time_s, float)[..., None] / self.time_constant_s)
        return np.asarray(self.at_once_k_per_w + passed @ self.resistance_k_per_w)

    @property
    def steady_k_per_w(self) -> float:
        """Z after a long time [K/W]: the thermal resistance."""
        return self.at_once_k_per_w + float(self.resistance_k_per_w.sum())


def modal_impedance(
    network: Network, node: str, heated: str, *, reference: str | None = None
) -> Impedance:
    """Rise of ``node`` for a watt into ``heated``, above the ambients or above ``reference``.

    Holds for a network whose every node has a way to an ambient. Raises InputError for a name that
    is no node.
    """
    watt = np.zeros((len(network.names), 1))
    watt[_place(network, heated)] = 1.0
    modes = modes_of(replace(network, inject=watt))
    felt = modes.response[:, _place(network, node)]
    if reference is not None:
        felt = felt - modes.response[:, _place(network, reference)]
    slow_last, count = np.argsort(modes.rate)[::-1], len(modes.rate)
    resistance = felt[:count] * modes.drive[0] / modes.rate
    return Impedance(resistance[slow_last], 1.0 / modes.rate[slow_last], float(felt[count]))


def impedance(
    network: Network, node: str, heated: str, time_s: ArrayLike, *, reference: str | None = None
) -> Array:
    """``modal_impedance`` at given times [K/W]."""
    return modal_impedance(network, node, heated, reference=reference).after(time_s)


def foster_form(network: Network, node: str) -> Stages:
    """The Foster pairs, fastest first, of the network as a watt into ``node`` sees it.

    Modes that such a watt hardly stirs are left out. Raises InputError where part of the rise is
    there at once (a massless node), which no pair of resistance and capacity can do.
    """
    seen = modal_impedance(network, node, node)
    if seen.at_once_k_per_w > FELT * seen.steady_k_per_w:
        raise InputError(
            f"{shown(node)}: found no capacitance, due a node with one: its temperature jumps by"
            f" {seen.at_once_k_per_w:.4g} K/W at once"
        )
    kept = seen.resistance_k_per_w > FELT * seen.steady_k_per_w
    resistance = seen.resistance_k_per_w[kept]
    return Stages(resistance, seen.time_constant_s[kept] / resistance)


def _place(network: Network, name: str) -> int:
    if name not in network.names:
        raise InputError(f"found {shown(name)}, due a node: one of {nearest(name, network.names)}")
    return network.names.index(name)
