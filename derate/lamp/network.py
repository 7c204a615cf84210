"""Thermal network as the file states it: nodes that store heat, links that conduct it."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from derate.lamp.ladder import Ladder
from derate.lamp.part import Flag, MaterialName, Name, Part, Text
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    Celsius,
    JoulePerKelvin,
    KelvinPerWatt,
    Kilogram,
    check,
)
from derate.lamp.sentence import wrong


class Node(Part):
    """A place with one temperature; without capacitance it follows its neighbours at once.

    Mass and material may be given instead of the capacitance: ask ``lamp.capacitance_j_per_k``.
    """

    capacitance_j_per_k: Annotated[JoulePerKelvin, NOT_NEGATIVE] = 0.0
    mass_kg: Annotated[Kilogram, POSITIVE] | None = None
    material: MaterialName | None = None
    limit_c: Celsius | None = None
    about: Text = ""

    @model_validator(mode="after")
    def _agree(self) -> Self:
        for key, given, other, due in (
            ("material", self.material, self.mass_kg, "the name of a material beside mass"),
            ("mass", self.mass_kg, self.material, 'a mass such as "180 g" beside material'),
        ):
            if given is None and other is not None:
                raise wrong(due, found="nothing", key=(key,))
        if self.mass_kg is not None and "capacitance_j_per_k" in self.model_fields_set:
            raise wrong("no such key beside mass and material", key=("capacitance",))
        return self


class Link(Part):
    """Heat conducted between two nodes, or a node and an ambient.

    A ``ladder`` instead of the resistance stores heat on the way; it is seen from the first of
    ``between``.
    """

    between: Annotated[
        tuple[Name, ...],
        check(lambda ends: len(ends) == 2 and ends[0] != ends[1], "two different names"),
    ] = Field(description='the two places it joins, such as ["board", "sink"]')
    resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE] | None = None
    ladder: Ladder | None = None
    airflow: Flag = False
    name: Name | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.ladder is None and self.resistance_k_per_w is None:
            due = 'a thermal resistance such as "4.2 K/W", or a ladder'
            raise wrong(due, found="nothing", key=("resistance",))
        if self.ladder is not None and self.resistance_k_per_w is not None:
            raise wrong("no such key beside ladder", key=("resistance",))
        if self.ladder is not None and self.airflow:
            raise wrong("no such key beside ladder", key=("airflow",))
        return self
