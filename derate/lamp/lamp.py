"""Lamp: everything that is known of one light source, its firmware settings and its missions."""

import copy
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Annotated, Any, Self, TypeVar

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PrivateAttr,
    ValidationError,
    model_validator,
)

from derate.errors import InputError
from derate.lamp.agreement import check_lamp
from derate.lamp.board import Board, Face, Interface
from derate.lamp.change import changed
from derate.lamp.channel import Channel
from derate.lamp.controller import Controller
from derate.lamp.cutout import PLACE, Cutout
from derate.lamp.driver import Driver, Timing
from derate.lamp.emitter import Emitter
from derate.lamp.layer import Film
from derate.lamp.made_of import named_materials
from derate.lamp.material import Material, built_in_materials, canonical, on_built_in
from derate.lamp.network import Link, Node
from derate.lamp.part import Name, Part, Text, whole
from derate.lamp.profile import Profile
from derate.lamp.quantities import Source, check
from derate.lamp.sensor import Sensor
from derate.lamp.sentence import mistakes, told
from derate.lamp.surface import Box, Fins, Plate, Surface
from derate.lamp.tolerances import Together, Varies
from derate.lamp.variation import toleranced

M = TypeVar("M")
LARGEST_UNIT = 2**32 - 1


def _at_least_one(what: str) -> AfterValidator:
    return check(lambda parts: len(parts) >= 1, f"at least one {what}")


class Title(Part):
    """What the lamp is called.

    ``unit``: the number of the one unit that the file describes, of which nothing varies and whose
    noise is its own; by default the file describes every unit alike.
    """

    name: Text = Field(description="the name of the lamp, text in quotes")
    note: Text = ""
    currency: Text = ""
    unit: Annotated[int, whole(0, LARGEST_UNIT)] | None = None


class Lamp(Part):
    """One lamp; every name in it is checked against what it refers to."""

    title: Title = Field(alias="lamp", description="a table [lamp] with the name of the lamp")
    emitters: Annotated[dict[Name, Emitter], _at_least_one("emitter")] = Field(
        description="at least one table [emitters.NAME]"
    )
    channels: Annotated[dict[Name, Channel], _at_least_one("channel")] = Field(
        description="at least one table [channels.NAME]"
    )
    ambients: Annotated[tuple[Name, ...], _at_least_one("ambient")] = ("ambient",)
    materials: Annotated[dict[Name, Material], BeforeValidator(on_built_in)] = Field(
        default_factory=dict
    )
    board: Board | None = None
    nodes: dict[Name, Node] = Field(default_factory=dict)
    links: tuple[Link, ...] = ()
    surfaces: dict[Name, Surface] = Field(default_factory=dict)
    sensors: Annotated[
        dict[Name, Sensor], check(lambda sensors: len(sensors) in (1, 2), "one or two sensors")
    ] = Field(description="one or two tables [sensors.NAME]")
    driver: Driver = Driver()
    timing: Timing = Timing()
    controller: Controller = Field(description="a table [controller]")
    cutouts: dict[Name, Cutout] = Field(default_factory=dict)
    profiles: dict[Name, Profile] = Field(default_factory=dict)
    tolerances: dict[Name, Varies] = Field(default_factory=dict)
    tolerance_groups: dict[Name, Together] = Field(default_factory=dict)

    _source: Path | None = PrivateAttr(default=None)
    _sha256: str = PrivateAttr(default="")
    _text: str = PrivateAttr(default="")
    _raw: dict[str, Any] | None = PrivateAttr(default=None)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        check_lamp(self)
        return self

    @property
    def named_nodes(self) -> list[str]:
        """The nodes that a key of the file may name, ``board`` included where there is one."""
        return [*self.nodes, *(["board"] if self.board else [])]

    @property
    def name(self) -> str:
        """What the lamp is called."""
        return self.title.name

    @property
    def source(self) -> Path | None:
        """The file this lamp was read from, None for one built in Python."""
        return self._source

    @property
    def sha256(self) -> str:
        """Hash of the bytes of that file, empty for one built in Python."""
        return self._sha256

    @property
    def text(self) -> str:
        """That file as it was read, empty for a lamp built or changed in Python."""
        return self._text

    @property
    def keys(self) -> dict[str, Any]:
        """The tables of that file as they were read or changed; {} for a lamp built in Python."""
        return copy.deepcopy(self._raw) if self._raw is not None else {}

    def material(self, name: str) -> Material:
        """A material of this lamp's own or of the built-in list, by any of its names; KeyError."""
        if name in self.materials:
            return self.materials[name]
        known = canonical(name)
        return self.materials.get(known) or built_in_materials()[known]

    @property
    def built_in_used(self) -> list[str]:
        """The built-in materials that its parts are made of, by their own names."""
        used = dict.fromkeys(canonical(name) for name in named_materials(self).values() if name)
        return [
            name for name in used if name in built_in_materials() and name not in self.materials
        ]

    def material_of(self, film: Film) -> Material:
        """What a film is made of; one given by a bare conductivity is made of a stand-in."""
        if film.material is not None:
            return self.material(film.material)
        alike = dict.fromkeys(
            ("conductivity_w_per_m_k", "through_conductivity_w_per_m_k"),
            film.conductivity_w_per_m_k,
        )
        return self.material(film.like).model_copy(update=alike)

    def emissivity_of(self, part: Plate | Fins | Box | Face) -> float:
        """The emissivity given for a surface or face, else that of the material behind it.

        In water it is 0, since water lets no heat radiation through.
        """
        if part.fluid == "water":
            return 0.0
        if part.emissivity is not None:
            return part.emissivity
        behind = self.material_behind(part)
        return self.material(behind).emissivity or 0.0 if behind else 0.0

    def material_behind(self, part: Plate | Fins | Box | Face) -> str | None:
        """The name of the material that a surface or face is made of, None where none is given."""
        match part:
            case Fins():
                return part.material
            case Face():
                return self.board.core.material if self.board else None
            case _:
                return self.nodes[part.of].material

    def area_resistance_m2_k_per_w(self, interface: Interface) -> float:
        """Resistance of an interface times its area [m^2 K/W]."""
        if interface.area_resistance_m2_k_per_w is not None:
            return interface.area_resistance_m2_k_per_w
        conductivity = interface.conductivity_w_per_m_k
        if interface.material is not None:
            conductivity = self.material(interface.material).through_conductivity_w_per_m_k
        return (interface.thickness_m or 0.0) / (conductivity or 1.0)

    def capacitance_j_per_k(self, node: str) -> float:
        """Heat capacity of a node of the file, stated or mass times specific heat [J/K]."""
        part = self.nodes[node]
        if part.mass_kg is None or part.material is None:
            return part.capacitance_j_per_k
        return part.mass_kg * self.material(part.material).specific_heat_j_per_kg_k

    def outside(self, ambient: str | None) -> str:
        """The ambient of that name, the first one by default."""
        return ambient or self.ambients[0]

    def solder_points(self, channel: str) -> tuple[str, ...]:
        """The node of each emitter of a channel, branch by branch (series x parallel entries).

        On the board ``solder.CHANNEL.K``, where K counts distinct positions from 1.
        """
        part = self.channels[channel]
        if part.at is None:
            return part.solder_points
        distinct = list(dict.fromkeys(part.at))
        return tuple(f"solder.{channel}.{distinct.index(at) + 1}" for at in part.at)

    def toleranced(self, sensor: str) -> Sensor:
        """A sensor whose table of tolerances holds those of [tolerances] on its parts as well."""
        return toleranced(self, sensor) if self.tolerances else self.sensors[sensor]

    def sensor_node(self, sensor: str) -> str:
        """The node a sensor sits on; ``place.SENSOR`` for a position on the board."""
        at = self.sensors[sensor].at
        return at if isinstance(at, str) else f"place.{sensor}"

    def cutout_node(self, cutout: str) -> str:
        """The node that a cut-out's element sits on."""
        at = self.cutouts[cutout].at
        sensor = at.removeprefix(PLACE)
        return self.sensor_node(sensor) if at.startswith(PLACE) else at

    def places(self) -> dict[str, tuple[float, float]]:
        """Position of every named node of the board but ``board`` itself (x, y) [m]."""
        found = {
            point: at
            for name, channel in self.channels.items()
            for point, at in zip(self.solder_points(name), channel.at or (), strict=False)
        }
        return found | {
            f"place.{name}": sensor.at
            for name, sensor in self.sensors.items()
            if not isinstance(sensor.at, str)
        }

    def with_changes(self, changes: Mapping[str, object]) -> "Lamp":
        """A lamp with some keys changed, checked anew.

        ``changes`` maps key paths as in the file ("controller.policy.hysteresis",
        "links.0.resistance", or a link by its name) to a quantity as text or a number in the unit
        of the field; None takes a key away. A change of a built-in material ("materials.copper.
        conductivity") leaves its other keys. Raises InputError like a lamp file would.
        """
        raw = self._raw if self._raw is not None else _written_out(self)
        title = self._source.name if self._source else self.name
        raw = changed(raw, changes, title)
        folder = self._source.parent if self._source else None
        lamp = validated(Lamp.model_validate, raw, Source(folder, numbers=True), title)
        lamp._source, lamp._sha256, lamp._raw = self._source, self._sha256, raw
        return lamp


def validated(validate: Callable[..., M], raw: Any, source: Source, title: str) -> M:
    """The model of ``raw``, or InputError with a sentence about each mistake in it."""
    try:
        return validate(raw, context=source)
    except ValidationError as error:
        raise InputError(*told(mistakes(error, raw), title)) from None


def _written_out(lamp: Lamp) -> dict[str, Any]:
    return lamp.model_dump(mode="json", by_alias=True, exclude_unset=True)
