"""A plate-fin heat sink computed a second time, and the limits it must tend to."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from derate.plant.surface import bank, flat, natural
from derate.plant.surface.bank import Bank
from derate.plant.surface.climate import climate_of
from derate.plant.surface.fluid import AIR, KELVIN
from tests.plant.surface.fluid_fit import coolprop

SINK = Bank(
    facing="side",
    fins=9,
    length_m=0.08,
    width_m=0.06,
    height_m=0.03,
    thickness_m=0.001,
    conductivity_w_per_m_k=20.0,
    emissivity=0.85,
)
"""Invented; of so poor a conductor that the efficiency of its fins counts."""
BASE_C, AIR_C = 85.0, 25.0
ROUNDING = 1e-9
"""Relative."""
DIGITS = 1e-4
"""Relative: fins of no height are given 0.1 um; sigma in seven digits."""
TWO_CORRELATIONS = 0.15
"""Relative: between fins and alone, upright plates have different correlations in still air."""
NEAR_LIMIT = 0.03
"""Relative: fins 2 m apart are nearly alone."""
SECOND = {0.0: 5e-4, 0.85: 0.012}
"""Relative, for each emissivity: the corrected length of poor conductors; that fins radiate as at
their base, times their efficiency, a little more than by the fourth power of what they have."""


def heat_w(sink, rise_k=BASE_C - AIR_C, ambient_c=AIR_C, airflow=1.0):
    """All heat from a bank [W]."""
    climate = climate_of(AIR, rise_k, ambient_c, airflow)
    beyond = bank.beyond_floor_w_per_k(sink, climate)
    return float(beyond + bank.floor_black_m2(sink) * climate.radiating_w_per_m2_k) * rise_k


def fin_heat_w(film_w_per_m2_k, black_share, sink):
    """Heat of one fin [W] cooled alike on both sides and at its tip, its equation integrated.

    k t L T'' = 2 L (h (T - T_air) + s sigma (T^4 - T_air^4)), with T in kelvin.
    """
    k, t = sink.conductivity_w_per_m_k, sink.thickness_m
    air_k, base_k = AIR_C + KELVIN, BASE_C + KELVIN

    def shed(temperature, share):
        return film_w_per_m2_k * (temperature - air_k) + share * 5.670374e-8 * (
            temperature**4 - air_k**4
        )

    def slopes(_, state):
        return np.vstack([state[1], 2.0 * shed(state[0], black_share) / (k * t)])

    def ends(base, tip):
        return np.array([base[0] - base_k, k * tip[1] + shed(tip[0], sink.emissivity)])

    height = np.linspace(0.0, sink.height_m, 101)
    guess = np.vstack([np.full(101, base_k), np.zeros(101)])
    solved = solve_bvp(slopes, ends, height, guess, tol=1e-8)
    assert solved.success
    return -k * t * sink.length_m * solved.sol(0.0)[1]


@pytest.mark.parametrize("emissivity", SECOND)
def test_a_heat_sink_computed_twice(emissivity):
    """Formulas written out anew with CoolProp's air, fins by their differential equation."""
    sink = SINK._replace(emissivity=emissivity)
    film_c = 0.5 * (BASE_C + AIR_C)
    k, nu, pr, beta, _ = (float(v[0]) for v in coolprop(AIR, np.array([film_c])))
    gap, length, height = (0.06 - 9 * 0.001) / 8, 0.08, 0.03
    ra_gap = 9.81 * beta * (BASE_C - AIR_C) * gap**3 * pr / nu**2
    el = ra_gap * gap / length
    inside = k / gap / math.sqrt(576.0 / el**2 + 2.873 / math.sqrt(el))
    ra = ra_gap * (length / gap) ** 3
    blend = (1.0 + (0.492 / pr) ** (9 / 16)) ** (8 / 27)
    outside = k / length * (0.825 + 0.387 * ra ** (1 / 6) / blend) ** 2
    walls = length * (gap + 2.0 * height)
    black = sink.channel_black_m2 / walls
    fins = 7 * fin_heat_w(inside, black, sink)
    fins += 2 * fin_heat_w(0.5 * (inside + outside), 0.5 * (black + emissivity), sink)
    radiated = 5.670374e-8 * ((BASE_C + KELVIN) ** 4 - (AIR_C + KELVIN) ** 4)
    floor = 8 * gap * length * (inside * (BASE_C - AIR_C) + black * radiated)
    ends = 9 * 2 * 0.001 * height * emissivity * radiated  # as hot as the base, 1e-3 of it all
    assert heat_w(sink) == pytest.approx(fins + floor + ends, rel=SECOND[emissivity])


def test_the_outermost_sides_of_lying_fins_are_as_high_as_the_fins():
    """On a lying base they are low upright plates, on an upright one as long as the channels."""
    climate = climate_of(AIR, 60.0, AIR_C, 0.0)
    for facing, height_m in (("side", SINK.length_m), ("up", SINK.height_m)):
        found = bank.films_of(SINK._replace(facing=facing), climate).outside
        known = natural.plate_w_per_m2_k(climate.film, 60.0, "side", height_m, math.nan)
        assert found == pytest.approx(known, rel=ROUNDING)


def test_efficiency_counts_in_this_sink():
    """Its fins shed clearly less than those of a perfect conductor, so that the check bites."""
    perfect = SINK._replace(conductivity_w_per_m_k=1e9)
    assert heat_w(SINK) < 0.93 * heat_w(perfect)


def test_perfect_fins_radiate_their_whole_black_area():
    """With fins as hot as their base radiation is that of black channels, outer sides and edges."""
    perfect = SINK._replace(conductivity_w_per_m_k=1e12)
    shiny = perfect._replace(emissivity=0.0)
    radiated = 5.670374e-8 * ((BASE_C + KELVIN) ** 4 - (AIR_C + KELVIN) ** 4)
    outer = 2.0 * 0.03 * 0.08 + 9 * 0.001 * (0.08 + 2.0 * 0.03)
    expected = radiated * (8 * SINK.channel_black_m2 + 0.85 * outer)
    assert heat_w(perfect) - heat_w(shiny) == pytest.approx(expected, rel=DIGITS)


def test_hardly_any_fins_shed_like_a_plate():
    """Two fins of no height leave a plate: radiation exactly, convection as both correlations."""
    low = SINK._replace(fins=2, height_m=1e-7, thickness_m=1e-6)
    plate = flat.plate("side", 0.08, 0.06, 1)
    assert bank.floor_black_m2(low) == pytest.approx(0.85 * 0.08 * 0.06, rel=DIGITS)
    climate = climate_of(AIR, 60.0, AIR_C, 0.0)
    alone = flat.convection_w_per_k(plate, climate, None)
    assert bank.beyond_floor_w_per_k(low, climate) == pytest.approx(alone, rel=TWO_CORRELATIONS)


@pytest.mark.parametrize(("speed_m_per_s", "apart"), [(None, TWO_CORRELATIONS), (3.0, NEAR_LIMIT)])
def test_fins_far_apart_convect_like_lone_plates(speed_m_per_s, apart):
    """With a huge gap: four sides and the floor, each a plate (still air: two correlations)."""
    far = SINK._replace(
        fins=2,
        width_m=2.0,
        thickness_m=1e-6,
        conductivity_w_per_m_k=1e9,
        emissivity=0.0,
        speed_m_per_s=speed_m_per_s,
    )
    faces = [flat.rectangle("side", 0.08, width) for width in (0.03, 0.03, 0.03, 0.03, 2.0)]
    climate = climate_of(AIR, 60.0, AIR_C, 1.0)
    alone = flat.convection_w_per_k(faces, climate, speed_m_per_s)
    assert bank.beyond_floor_w_per_k(far, climate) == pytest.approx(alone, rel=apart)


def test_there_is_a_best_number_of_fins():
    """Upright in still air, few fins and very many fins shed less than some number between."""
    heat = [heat_w(SINK._replace(fins=n, conductivity_w_per_m_k=170.0)) for n in range(2, 41)]
    assert 2 < int(np.argmax(heat)) + 2 < 20


def test_a_stronger_fan_moves_more():
    """More free delivery, more pressure, more pace: each gives more heat."""
    fan = SINK._replace(free_m3_per_s=5e-3, shut_off_pa=30.0)
    plain = heat_w(fan)
    assert plain > heat_w(SINK)
    assert heat_w(fan._replace(free_m3_per_s=7e-3)) > plain
    assert heat_w(fan._replace(shut_off_pa=60.0)) > plain
    assert heat_w(fan, airflow=1.5) > plain
    assert heat_w(fan, airflow=0.0) == pytest.approx(heat_w(SINK), rel=ROUNDING)
