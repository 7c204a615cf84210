"""Where a fan's curve meets the pressure drop of the channels it blows through.

Both are pressures over the speed v [m/s] between the fins:

    drop(v) = 2 rho nu L / D^2 v sqrt(3.44^2 D^2 v / (L nu) + (f Re)^2)
              + (0.42 (1 - s^2) + (1 - s^2)^2) rho v^2 / 2
    fan(v)  = shut_off pace (pace - v section / free)

The first line of the drop is laminar friction that develops along a rectangular channel, its
apparent Fanning factor f = sqrt((3.44 / sqrt(L+))^2 + (f Re)^2) / Re with L+ = L / (D Re), D four
times area over perimeter, and f Re = 24 - 32.527 a + 46.721 a^2 - 40.829 a^3 + 22.954 a^4
- 6.089 a^5 for the smaller over the larger side a (Shah & London 1978; Muzychka & Yovanovich 1998).
The second line is the loss where flow enters and leaves, s the channels' share of the front (Kays &
London 1964, as in Culham & Muzychka, IEEE Trans. Components Packag. Technol. 24 (2001) 159). All
from memory. The fan's curve is a straight line between both ends of its data sheet; real curves
bend about it. Flow goes as the pace, pressure as its square (fan laws).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.surface.fluid import Properties

Array = NDArray[np.float64]

NEWTON_STEPS = 10
"""From above to rounding: the drop bends up, so that no step overshoots; the start is never more
than what the fan delivers freely, nor than what drops its whole pressure by settled friction."""


class Ducts(NamedTuple):
    """Channels side by side [m]; ``open_share``: of the front [-]."""

    channels: int
    length_m: float
    gap_m: float
    depth_m: float
    open_share: float

    @property
    def section_m2(self) -> float:
        """Area that flow goes through [m^2]."""
        return self.channels * self.gap_m * self.depth_m

    @property
    def hydraulic_m(self) -> float:
        """Hydraulic diameter of one channel, D [m]."""
        return 2.0 * self.gap_m * self.depth_m / (self.gap_m + self.depth_m)

    @property
    def settled_friction(self) -> float:
        """f Re [-] far from the entrance."""
        aspect = min(self.gap_m, self.depth_m) / max(self.gap_m, self.depth_m)
        return float(np.polyval((-6.089, 22.954, -40.829, 46.721, -32.527, 24.0), aspect))

    @property
    def end_loss(self) -> float:
        """Loss at entrance and exit in dynamic pressures [-]."""
        closed = 1.0 - self.open_share**2
        return 0.42 * closed + closed**2


def pressure_drop_pa(fluid: Properties, speed_m_per_s: Array, ducts: Ducts) -> tuple[Array, Array]:
    """Pressure drop [Pa] and its derivative to the speed [Pa s/m]."""
    v, rho, nu = speed_m_per_s, fluid.density_kg_per_m3, fluid.viscosity_m2_per_s
    along = 2.0 * rho * nu * ducts.length_m / ducts.hydraulic_m**2
    entering = 3.44**2 * ducts.hydraulic_m**2 / (ducts.length_m * nu)
    root = np.sqrt(entering * v + ducts.settled_friction**2)
    loss = ducts.end_loss * rho
    drop = along * v * root + 0.5 * loss * v**2
    return drop, along * (root + 0.5 * entering * v / root) + loss * v


def pressure_given_pa(
    speed_m_per_s: Array, pace: Array, ducts: Ducts, *, free_m3_per_s: float, shut_off_pa: float
) -> Array:
    """Pressure [Pa] that the fan gives at a speed between the fins."""
    return shut_off_pa * pace * (pace - speed_m_per_s * ducts.section_m2 / free_m3_per_s)


def operating_speed_m_per_s(
    fluid: Properties, pace: Array, ducts: Ducts, *, free_m3_per_s: float, shut_off_pa: float
) -> Array:
    """Speed [m/s] between the fins where fan and drop meet; all the fan moves goes through them.

    ``pace``: share of the fan's full speed [-]; broadcasts with the fluid's properties.
    """
    free = free_m3_per_s / ducts.section_m2
    at_rest = pressure_drop_pa(fluid, np.zeros(()), ducts)[1]
    v = np.minimum(free * pace, shut_off_pa * pace**2 / at_rest)
    for _ in range(NEWTON_STEPS):
        drop, steeper = pressure_drop_pa(fluid, v, ducts)
        given = pressure_given_pa(
            v, pace, ducts, free_m3_per_s=free_m3_per_s, shut_off_pa=shut_off_pa
        )
        v = v - (drop - given) / (steeper + shut_off_pa * pace / free)
    return np.asarray(v)
