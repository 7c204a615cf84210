"""Channel: emitters in series and parallel that are dimmed together."""

from typing import Annotated, Any, Literal, Self

from pydantic import Discriminator, Field, Tag, model_validator

from derate.lamp.outline import Position, Size
from derate.lamp.part import Name, Part, whole
from derate.lamp.quantities import POSITIVE, Ampere, Celsius, Volt
from derate.lamp.sentence import wrong


def _one_or_each(value: Any) -> str:
    return "each" if isinstance(value, list | tuple) else "one"


class Channel(Part):
    """Emitters dimmed together: ``parallel`` branches of ``series`` emitters each.

    They are soldered to nodes (``solder_point``) or stand on the board (``at``, by branches), each
    on a copper rectangle ``pad_m`` [m] of its own, which lies on the dielectric or on the core.
    ``solder_limit_c`` [degC]: that of their solder points. ``priority``: how important its light
    is beside that of the others, a larger number more so.
    """

    emitter: Name = Field(description="the name of an emitter")
    series: Annotated[int, whole(1, 1000)] = 1
    parallel: Annotated[int, whole(1, 1000)] = 1
    current_a: Annotated[Ampere, POSITIVE]
    junction_limit_c: Celsius
    solder_limit_c: Celsius | None = None
    solder_point: (
        Annotated[
            Annotated[Name, Tag("one")] | Annotated[tuple[Name, ...], Tag("each")],
            Discriminator(_one_or_each),
        ]
        | None
    ) = None
    at: tuple[Position, ...] | None = None
    pad_m: Size | None = None
    pad_on: Literal["dielectric", "core"] = "dielectric"
    forward_voltage_offset_v: Annotated[
        Annotated[Volt, Tag("one")] | Annotated[tuple[Volt, ...], Tag("each")],
        Discriminator(_one_or_each),
    ] = 0.0

    priority: Annotated[int, whole(0, 100)] | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if (self.solder_point is None) == (self.at is None):
            due = "either the node the emitters are soldered to, or their positions (at)"
            found = "neither" if self.at is None else "both"
            raise wrong(due, found=found, key=("solder_point",))
        emitters = self.series * self.parallel
        if self.at is None:
            if len(self.solder_points) != emitters:
                due = f"one node, or {emitters}: one for each emitter, by branches"
                raise wrong(due, found=f"{len(self.solder_points)} nodes", key=("solder_point",))
            for key in ("pad_m", "pad_on"):
                if key in self.model_fields_set:
                    due = "no such key beside solder_point"
                    raise wrong(due, key=(key.removesuffix("_m"),))
        elif len(self.at) != emitters:
            due = f"{emitters} positions, one for each emitter, by branches"
            raise wrong(due, found=f"{len(self.at)} positions", key=("at",))
        elif self.pad_m is None:
            due = 'the copper around each emitter, two lengths such as ["8 mm", "6 mm"]'
            raise wrong(due, found="nothing", key=("pad",))
        if len(self.offsets_v) != self.parallel:
            due = f"one voltage, or {self.parallel}: one for each parallel branch"
            found = f"{len(self.offsets_v)} voltages"
            raise wrong(due, found=found, key=("forward_voltage_offset",))
        return self

    @property
    def solder_points(self) -> tuple[str, ...]:
        """The node of each emitter, branch by branch; none where they stand on the board."""
        if self.solder_point is None:
            return ()
        if isinstance(self.solder_point, str):
            return (self.solder_point,) * (self.series * self.parallel)
        return self.solder_point

    @property
    def offsets_v(self) -> tuple[float, ...]:
        """The forward voltage offset of one emitter of each parallel branch [V]."""
        if isinstance(self.forward_voltage_offset_v, float):
            return (self.forward_voltage_offset_v,) * self.parallel
        return self.forward_voltage_offset_v
