"""Material: how it conducts and stores heat; the list of those built in."""

import functools
import tomllib
from collections.abc import Mapping
from importlib import resources
from typing import Annotated, Any, cast

from pydantic import Field, ValidationInfo, ValidatorFunctionWrapHandler, WrapValidator

from derate.lamp.part import Part, Text
from derate.lamp.quantities import (
    POSITIVE,
    JoulePerKilogramKelvin,
    KilogramPerCubicMetre,
    Share,
    Source,
    WattPerMetreKelvin,
    key_of,
)


def _as_in_plane(value: Any, read: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
    return info.data.get("conductivity_w_per_m_k") if value is None else read(value)


class Material(Part):
    """A solid: conductivity in its plane and across it [W/(m K)], density, specific heat.

    ``through_conductivity_w_per_m_k`` is the conductivity in the plane unless given; ``emissivity``
    that of its surface.
    """

    conductivity_w_per_m_k: Annotated[WattPerMetreKelvin, POSITIVE]
    through_conductivity_w_per_m_k: Annotated[
        WattPerMetreKelvin, POSITIVE, WrapValidator(_as_in_plane)
    ] = Field(default=cast(float, None), validate_default=True)
    density_kg_per_m3: Annotated[KilogramPerCubicMetre, POSITIVE]
    specific_heat_j_per_kg_k: Annotated[JoulePerKilogramKelvin, POSITIVE]
    emissivity: Share | None = None
    source: Text = ""

    @property
    def across_w_per_m_k(self) -> float:
        """Short for the conductivity across the plane [W/(m K)]."""
        return self.through_conductivity_w_per_m_k

    @property
    def heat_j_per_m3_k(self) -> float:
        """Heat capacity of a volume, density times specific heat [J/(m^3 K)]."""
        return self.density_kg_per_m3 * self.specific_heat_j_per_kg_k


@functools.cache
def built_in_tables() -> Mapping[str, dict[str, Any]]:
    """The built-in materials as ``materials.toml`` writes them."""
    text = resources.files("derate.lamp").joinpath("materials.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    del tables["also_called"]
    return tables


@functools.cache
def _also_called() -> dict[str, str]:
    """Other words for built-in materials -> their names."""
    text = resources.files("derate.lamp").joinpath("materials.toml").read_text(encoding="utf-8")
    words = tomllib.loads(text)["also_called"]
    return {word: name for name, listed in words.items() for word in listed}


def canonical(name: str) -> str:
    """The built-in name for a usual one: "FR-4" is fr4; what is no such word stays as it is."""
    word = name.lower().replace("-", "_").replace(" ", "_")
    if word in built_in_tables():
        return word
    return _also_called().get(word, name)


@functools.cache
def built_in_materials() -> Mapping[str, Material]:
    """The built-in materials by name."""
    return {
        name: Material.model_validate(table, context=Source())
        for name, table in built_in_tables().items()
    }


def on_built_in(tables: Any) -> Any:
    """Materials as a file writes them; one named like a built-in one changes only its keys."""
    if not isinstance(tables, dict):
        return tables
    return {name: _on_built_in(name, table) for name, table in tables.items()}


def _on_built_in(name: object, table: Any) -> Any:
    ground = built_in_tables().get(canonical(name)) if isinstance(name, str) else None
    if ground is None or not isinstance(table, dict):
        return table
    changed = {key_of(key) for key in table} | {"source"}
    return {key: text for key, text in ground.items() if key not in changed} | table
