"""Ladder: a chain of resistances and capacitances that a thermal transient was fitted with."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from derate.lamp.part import Part
from derate.lamp.quantities import POSITIVE, JoulePerKelvin, KelvinPerWatt, check
from derate.lamp.sentence import wrong

MOST_STEPS = 30

_steps = check(lambda values: 1 <= len(values) <= MOST_STEPS, f"from 1 to {MOST_STEPS} values")


class Ladder(Part):
    """Steps of resistance and capacitance, seen from the heated end.

    "cauer": a chain in which each capacitance stands against ambient before its resistance.
    "foster": the step response is the sum of resistance (1 - exp(-t / (resistance capacitance))).
    """

    form: Literal["cauer", "foster"] = Field(description='"cauer" or "foster"')
    resistance_k_per_w: Annotated[tuple[Annotated[KelvinPerWatt, POSITIVE], ...], _steps]
    capacitance_j_per_k: Annotated[tuple[Annotated[JoulePerKelvin, POSITIVE], ...], _steps]

    @model_validator(mode="after")
    def _agree(self) -> Self:
        steps = len(self.resistance_k_per_w)
        if len(self.capacitance_j_per_k) != steps:
            due = f'{steps} values, one for each entry of "resistance"'
            found = f"{len(self.capacitance_j_per_k)} values"
            raise wrong(due, found=found, key=("capacitance",))
        return self

    @property
    def total_k_per_w(self) -> float:
        """The resistance of all steps, the same in both forms [K/W]."""
        return sum(self.resistance_k_per_w)
