"""Thermal network as the file states it: nodes that store heat, links that conduct it."""

from typing import Annotated

from pydantic import Field

from derate.lamp.ladder import Ladder
from derate.lamp.part import Flag, Name, Part, Text
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    Celsius,
    JoulePerKelvin,
    KelvinPerWatt,
    Kilogram,
    check,
)


class Node(Part):
    """A place with one temperature; without capacitance it follows its neighbours at once."""

    capacitance_j_per_k: Annotated[JoulePerKelvin, NOT_NEGATIVE] = 0.0
    mass_kg: Annotated[Kilogram, POSITIVE] | None = None
    material: Name | None = None
    limit_c: Celsius | None = None
    about: Text = ""


class Link(Part):
    """Heat conducted between two nodes, or a node and an ambient."""

    between: Annotated[
        tuple[Name, ...],
        check(lambda ends: len(ends) == 2 and ends[0] != ends[1], "two different names"),
    ] = Field(description='the two places it joins, such as ["board", "sink"]')
    resistance_k_per_w: Annotated[KelvinPerWatt, POSITIVE] | None = None
    ladder: Ladder | None = None
    airflow: Flag = False
    name: Name | None = None
