"""Fit the polynomials of ``derate/plant/surface/fluid.py`` to CoolProp and print them.

python -m tests.plant.surface.fluid_fit
"""

import numpy as np

from derate.plant.surface.fluid import AIR, WATER, Fluid, Properties

DEGREE = 8
ROWS = 801


def coolprop(fluid: Fluid, film_c: np.ndarray) -> Properties:
    """Properties by CoolProp's equations of state at 1 atm."""
    import CoolProp

    state = CoolProp.AbstractState("HEOS", fluid.name.capitalize())
    rows = []
    for temperature_c in np.ravel(film_c):
        state.update(CoolProp.PT_INPUTS, 101325.0, temperature_c + 273.15)
        viscosity = state.viscosity() / state.rhomass()
        diffusivity = state.conductivity() / (state.rhomass() * state.cpmass())
        rows.append(
            (
                state.conductivity(),
                viscosity,
                viscosity / diffusivity,
                state.isobaric_expansion_coefficient(),
                state.rhomass(),
            )
        )
    return Properties(*np.array(rows).T)


def fitted(fluid: Fluid) -> list[list[float]]:
    """Chebyshev coefficients, one row per property, least squares of the relative error."""
    low_c, high_c = fluid.range_c
    rows = []
    for name in Properties._fields:
        start_c = fluid.expands_from_c if name == "expansion_per_k" else low_c
        film_c = np.linspace(start_c, high_c, ROWS)
        value = getattr(coolprop(fluid, film_c), name)
        x = (2 * film_c - low_c - high_c) / (high_c - low_c)
        rows.append(np.polynomial.chebyshev.chebfit(x, value, DEGREE, w=1 / value).tolist())
    return rows


def main() -> None:
    """Print the coefficients to paste."""
    for fluid in (AIR, WATER):
        print(fluid.name)
        for row in fitted(fluid):
            print("        (" + ", ".join(f"{c:.7g}" for c in row) + "),")


if __name__ == "__main__":
    main()
