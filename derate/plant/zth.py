"""Thermal impedance: how far one watt, switched on somewhere, lifts a node after a time.

    Z(t) = Z_0 + sum of R_k (1 - exp(-t / tau_k)),    R_k = response_k drive_k tau_k

over the modes k of the network: drive_k what the watt pushes into a mode, response_k what the mode
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
SLOWEST = 1e-12
"""A mode slower than this part of the fastest [-] never settles; it counts as so slow."""


@dataclass(frozen=True, eq=False)
class Impedance:
    """A step response in kelvin per watt as a sum over n modes, the fastest first."""

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


@dataclass(frozen=True, eq=False)
class Step:
    """What one pattern of heat does to all N nodes: an impedance of each.

    ``resistance_k_per_w`` (n, N), ``time_constant_s`` (n), ``at_once_k_per_w`` (N).
    """

    names: tuple[str, ...]
    resistance_k_per_w: Array
    time_constant_s: Array
    at_once_k_per_w: Array

    def of(self, node: str, *, reference: str | None = None) -> Impedance:
        """Rise of ``node`` above the ambients or above ``reference``.

        Raises InputError for a name that is no node.
        """
        seen = np.zeros(len(self.names))
        seen[_place(self.names, node)] = 1.0
        if reference is not None:
            seen[_place(self.names, reference)] -= 1.0
        at_once = float(self.at_once_k_per_w @ seen)
        return Impedance(self.resistance_k_per_w @ seen, self.time_constant_s, at_once)


def steps(network: Network, heat: Array) -> tuple[Step, ...]:
    """The step responses to each column of ``heat`` (N, U), the share of a watt in each node."""
    modes = modes_of(replace(network, inject=heat))
    count, nodes = len(modes.rate), len(network.names)
    order = np.argsort(modes.rate)[::-1]
    tau_s = 1.0 / np.maximum(modes.rate, SLOWEST * modes.rate.max())[order]
    response = modes.response[:count, :nodes][order]
    at_once = modes.response[count : count + heat.shape[1], :nodes]
    return tuple(
        Step(network.names, (drive[order] * tau_s)[:, None] * response, tau_s, first)
        for drive, first in zip(modes.drive, at_once, strict=False)
    )


def modal_impedance(
    network: Network, node: str, heated: str, *, reference: str | None = None
) -> Impedance:
    """Rise of ``node`` for a watt into ``heated``, above the ambients or above ``reference``.

    Raises InputError for a name that is no node.
    """
    watt = np.zeros((len(network.names), 1))
    watt[_place(network.names, heated)] = 1.0
    return steps(network, watt)[0].of(node, reference=reference)


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


def _place(names: tuple[str, ...], name: str) -> int:
    if name not in names:
        raise InputError(f"found {shown(name)}, due a node: one of {nearest(name, names)}")
    return names.index(name)
