"""Correlations where they meet, end and turn into each other."""

import math

import ht
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from derate.plant.surface import channel, forced, natural
from derate.plant.surface.fan import Ducts, operating_speed_m_per_s, pressure_drop_pa
from derate.plant.surface.fluid import AIR, WATER

ROUNDING = 1e-9
"""Relative."""
DIGITS = 1e-3
"""Relative: worked by hand, or with constants, to four digits."""
ONSET = 0.003
"""The laminar and the mixed branch of the plate miss each other by this share at Re = 5e5."""
TWO_CORRELATIONS = 0.15
"""Relative: how far equations for a lone upright plate differ at a lamp's size."""
NEAR_LIMIT = 0.04
"""Relative: what channels still miss at the widths and speeds taken for their limits."""
PRANDTL = (0.71, 5.0)


def test_natural_convection_rises_without_jumps():
    """Nu of plates and channels rises with Ra, by no more than Ra itself, over ten decades."""
    ra = np.geomspace(1e-2, 1e10, 4001)
    step = ra[1] / ra[0]
    branches = (lambda ra: natural.vertical(ra, 0.71), natural.up, natural.down)
    for nusselt in (*branches, channel.upright, channel.lying):
        growth = nusselt(ra)[1:] / nusselt(ra)[:-1]
        assert growth.min() > 1.0
        assert growth.max() < step * (1.0 + ROUNDING)


@pytest.mark.parametrize(
    ("ra", "coefficient", "exponent"),
    [(100.0, 0.96, 1 / 6), (1e5, 0.54, 1 / 4), (1e8, 0.15, 1 / 3)],
)
def test_each_branch_of_a_plate_looking_up_acts_in_its_range(ra, coefficient, exponent):
    """Small plates, laminar and turbulent flow are computed by their own branch."""
    assert natural.up(ra) == pytest.approx(coefficient * ra**exponent, rel=ROUNDING)


@pytest.mark.parametrize("prandtl", PRANDTL)
def test_upright_and_lying_plates_as_an_independent_library_has_them(prandtl):
    """The library ht agrees with both branches of lying plates and with the upright plate."""
    for ra in (1e5, 1e6, 1e8):
        gr = ra / prandtl
        upright = ht.Nu_vertical_plate_Churchill(prandtl, gr)
        assert natural.vertical(ra, prandtl) == pytest.approx(upright, rel=ROUNDING)
        up = ht.Nu_horizontal_plate_McAdams(prandtl, gr, buoyancy=True)
        assert natural.up(ra) == pytest.approx(up, rel=ROUNDING)
        down = ht.Nu_horizontal_plate_McAdams(prandtl, gr, buoyancy=False)
        assert natural.down(ra) == pytest.approx(down, rel=ROUNDING)


@pytest.mark.parametrize("prandtl", PRANDTL)
def test_laminar_flow_over_a_plate_as_an_independent_library_has_it(prandtl):
    """The library ht (Baehr & Stephan) agrees below the transition."""
    found = forced.plate(2e4, prandtl)
    known = ht.Nu_horizontal_plate_laminar_Baehr(2e4, prandtl)
    assert found == pytest.approx(known, rel=ROUNDING)


TURBULENT_FORMS = 0.16
"""Relative: two correlations of wholly turbulent flow over a plate differ by this much in air."""


def test_mixed_flow_over_a_plate_joins_laminar_and_turbulent():
    """No jump where turbulence begins; far downstream nearly a wholly turbulent layer."""
    below, above = forced.plate(np.array([5e5 * (1 - 1e-9), 5e5 * (1 + 1e-9)]), 0.71)
    assert above == pytest.approx(below, rel=ONSET)
    late = forced.plate(9e7, 0.71)
    known = ht.Nu_horizontal_plate_turbulent_Schlichting(9e7, 0.71)
    assert late == pytest.approx(known, rel=TURBULENT_FORMS)


def test_together_is_more_than_either_and_less_than_both():
    """Aiding flows: between the larger of two film coefficients and their sum."""
    natural_h, forced_h = np.meshgrid(np.geomspace(0.1, 100.0, 20), np.geomspace(0.1, 100.0, 20))
    both = forced.together(natural_h, forced_h)
    assert (both > np.maximum(natural_h, forced_h)).all()
    assert (both < natural_h + forced_h).all()
    assert forced.together(5.0, 0.0) == pytest.approx(5.0, rel=ROUNDING)


def test_narrow_upright_channels_let_air_leave_as_warm_as_their_walls():
    """Heat = mass flow x specific heat x rise, the flow driven by buoyancy against friction.

    Between parallel plates the mean speed is (g beta rise / nu) S^2 / 12, hence Nu = El / 24.
    """
    gap, length, rise = 0.5e-3, 0.1, 10.0
    air = AIR.at(30.0)
    speed = natural.GRAVITY_M_PER_S2 * air.expansion_per_k * rise / air.viscosity_m2_per_s
    speed = speed * gap**2 / 12.0
    diffusivity = air.viscosity_m2_per_s / air.prandtl
    carried = air.conductivity_w_per_m_k / diffusivity * speed * gap
    found = channel.natural_w_per_m2_k(air, rise, "side", gap, length) * 2.0 * length
    assert found == pytest.approx(carried, rel=NEAR_LIMIT)


def test_slow_flow_leaves_as_warm_as_the_walls():
    """Blown slowly, channels shed all that the stream can carry."""
    air, speed, gap, length = AIR.at(40.0), 0.01, 1e-3, 0.1
    carried = air.conductivity_w_per_m_k * air.prandtl / air.viscosity_m2_per_s * speed * gap
    found = channel.blown_w_per_m2_k(air, speed, gap, length) * 2.0 * length
    assert found == pytest.approx(carried, rel=DIGITS)


@pytest.mark.parametrize("facing", ["side", "up"])
def test_wide_channels_shed_like_lone_plates(facing):
    """Natural convection: 0.59 Ra^(1/4) upright on the length, 0.53 Ra^(1/4) lying on the gap."""
    air, rise, gap = AIR.at(50.0), 40.0, 0.5
    length = 0.1 if facing == "side" else gap
    ra = natural.rayleigh(air, rise, length)
    alone = {"side": 0.59, "up": 0.53}[facing] * ra**0.25 * air.conductivity_w_per_m_k / length
    found = channel.natural_w_per_m2_k(air, rise, facing, gap, 0.1)
    assert found == pytest.approx(alone, rel=NEAR_LIMIT)


def test_upright_plates_of_both_correlations_are_alike():
    """Wide channels and the lone plate's own correlation agree within 15 % at a lamp's size."""
    for ra in np.geomspace(1e4, 1e7, 7):
        assert 0.59 * ra**0.25 == pytest.approx(natural.vertical(ra, 0.71), rel=TWO_CORRELATIONS)


def test_wide_blown_channels_shed_like_lone_plates():
    """Blown, walls far apart shed like plates in the same flow."""
    air, speed, length, gap = AIR.at(40.0), 2.0, 0.05, 5.0
    alone = forced.plate_w_per_m2_k(air, speed, length)
    found = channel.blown_w_per_m2_k(air, speed, gap, length)
    assert found == pytest.approx(alone, rel=NEAR_LIMIT)


def test_fins_that_hang_down_shed_half():
    """As their estimate says."""
    air = AIR.at(50.0)
    up, down = (channel.natural_w_per_m2_k(air, 40.0, f, 0.008, 0.1) for f in ("up", "down"))
    assert down == pytest.approx(up / 2.0, rel=ROUNDING)


DEVELOPED_NUSSELT = 7.541
"""Nu on the hydraulic diameter far down a channel of two isothermal walls (Shah & London)."""
COMPARED = 0.09
"""Relative: what the composite of blown channels may miss the parabolic profile by."""


def test_blown_channel_against_its_energy_equation():
    """A developed laminar profile, its energy equation integrated down the channel.

    The thermal entry of plane flow: u(y) dT/dx = alpha d2T/dy2 by lines. At the lengths of a heat
    sink the speed's own entry, left out here, adds a few per cent.
    """
    air, speed, gap, length = AIR.at(40.0), 1.0, 2e-3, 0.06
    alpha = float(air.viscosity_m2_per_s / air.prandtl)
    cells = 100
    dy = gap / 2.0 / cells
    y = (np.arange(cells) + 0.5) * dy  # from the middle to the wall
    profile = 1.5 * speed * (1.0 - (2.0 * y / gap) ** 2)

    def slope(_, rise):
        flux = np.empty(cells + 1)
        flux[0], flux[1:-1] = 0.0, -np.diff(rise) / dy
        flux[-1] = -(1.0 - rise[-1]) / (dy / 2.0)
        return -alpha * np.diff(flux) / dy / profile

    ends = solve_ivp(slope, (0.0, length), np.zeros(cells), method="BDF", rtol=1e-6, atol=1e-8)
    carried = (profile * ends.y[:, -1]).sum() * dy * 2.0
    heat = float(air.conductivity_w_per_m_k) / alpha * carried
    found = channel.blown_w_per_m2_k(air, speed, gap, length) * 2.0 * length
    assert found == pytest.approx(heat, rel=COMPARED)


def test_lying_and_blown_channels_by_hand():
    """One value of each equation between its limits, worked by hand for this check."""
    assert channel.lying(1e4) == pytest.approx(2.692, rel=DIGITS)
    assert channel.blown(25.0, 0.71) == pytest.approx(3.792, rel=DIGITS)


def test_a_short_channel_drops_what_speeds_up_its_core():
    """Boundary layers displace 1.7208 L / sqrt(Re) on either wall, Bernoulli does the rest.

    The constant 3.44 of the friction is twice that of the displacement (Blasius).
    """
    air, gap, length, speed = AIR.at(30.0), 0.5, 0.01, 3.0
    displaced = 1.7208 * length / math.sqrt(speed * length / air.viscosity_m2_per_s)
    core = air.density_kg_per_m3 * speed**2 * 2.0 * displaced / gap
    drop, _ = pressure_drop_pa(air, np.array(speed), Ducts(1, length, gap, 1e4, 1.0))
    assert drop == pytest.approx(core, rel=DIGITS)


def test_pressure_lost_at_the_ends():
    """A bank whose fins close 40 % of its front loses 0.678 dynamic pressures at its ends."""
    half = Ducts(8, 1e-9, 0.004, 0.025, 0.6)
    drop, _ = pressure_drop_pa(AIR.at(30.0), np.array(3.0), half)
    dynamic = AIR.at(30.0).density_kg_per_m3 * 3.0**2 / 2.0
    assert drop / dynamic == pytest.approx(0.42 * 0.64 + 0.64**2, rel=DIGITS)


LAST_DIGIT = 0.01
"""Of f Re as printed."""


@pytest.mark.parametrize(("depth", "printed"), [(0.002, 14.23), (0.004, 15.55), (0.016, 20.58)])
def test_friction_far_down_a_rectangular_duct(depth, printed):
    """f Re is 14.23 in a square duct, 15.55 at 1:2, 20.58 at 1:8 (Shah & London; from memory)."""
    found = Ducts(1, 1.0, 0.002, depth, 1.0).settled_friction
    assert found == pytest.approx(printed, abs=LAST_DIGIT)


def test_pressure_drop_of_a_long_wide_channel():
    """Far from its ends a wide channel drops 12 rho nu speed L / S^2 (plane flow)."""
    air, gap, length, speed = AIR.at(30.0), 1e-3, 20.0, 0.5
    drop, _ = pressure_drop_pa(air, np.array(speed), Ducts(1, length, gap, 100.0, 1.0))
    plane = 12.0 * air.density_kg_per_m3 * air.viscosity_m2_per_s * speed * length / gap**2
    assert drop == pytest.approx(plane, rel=DIGITS)


@given(
    gap=st.floats(1e-3, 2e-2),
    depth=st.floats(5e-3, 0.1),
    length=st.floats(0.01, 0.3),
    channels=st.integers(1, 60),
    free=st.floats(1e-4, 0.1),
    shut_off=st.floats(5.0, 500.0),
    pace=st.floats(1e-3, 4.0),
)
def test_fan_and_channels_agree_on_pressure(gap, depth, length, channels, free, shut_off, pace):
    """At the operating point the fan's pressure equals the drop, below its free delivery."""
    ducts, air = Ducts(channels, length, gap, depth, 0.6), AIR.at(np.array(30.0))
    speed = operating_speed_m_per_s(
        air, np.array(pace), ducts, free_m3_per_s=free, shut_off_pa=shut_off
    )
    drop, _ = pressure_drop_pa(air, speed, ducts)
    given_pa = shut_off * pace * (pace - speed * ducts.section_m2 / free)
    assert 0.0 < speed * ducts.section_m2 < free * pace
    assert drop == pytest.approx(given_pa, abs=ROUNDING * shut_off * pace**2)


DIFFERENCE = 1e-6
"""Relative: a derivative by differences of 1e-5."""


def test_pressure_drop_slope():
    """The derivative of the drop is that of the drop."""
    ducts, air = Ducts(8, 0.06, 0.004, 0.025, 0.6), AIR.at(30.0)
    for speed in (0.01, 1.0, 10.0):
        step = 1e-5 * speed
        above, below = (pressure_drop_pa(air, speed + s, ducts)[0] for s in (step, -step))
        slope = pressure_drop_pa(air, speed, ducts)[1]
        assert slope == pytest.approx((above - below) / (2.0 * step), rel=DIFFERENCE)


def test_a_stopped_fan_moves_nothing():
    """Without airflow the speed between the fins is 0."""
    ducts = Ducts(8, 0.06, 0.004, 0.025, 0.6)
    speed = operating_speed_m_per_s(
        AIR.at(np.array(30.0)), np.array(0.0), ducts, free_m3_per_s=5e-3, shut_off_pa=40.0
    )
    assert speed == 0.0


def test_water_sheds_far_more_than_air():
    """Natural convection from a small upright plate: hundreds of W/(m^2 K) against a few.

    Common practice: 2 to 25 W/(m^2 K) in gases, 50 to 1000 in liquids (Incropera, Table 1.1; from
    memory).
    """
    for fluid, low, high in ((AIR, 2.0, 25.0), (WATER, 50.0, 1000.0)):
        h = natural.plate_w_per_m2_k(fluid.at(30.0), 20.0, "side", 0.05, math.nan)
        assert low < h < high
