"""Channel: emitters in series and parallel that are dimmed together."""

from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, model_validator

from derate.lamp.part import Name, Part, whole
from derate.lamp.quantities import POSITIVE, Ampere, Celsius, Volt
from derate.lamp.sentence import wrong


def _listed(value: Any) -> Any:
    return (value,) if not isinstance(value, list | tuple) else tuple(value)


class Channel(Part):
    """Emitters dimmed together: ``parallel`` branches of ``series`` emitters each."""

    emitter: Name = Field(description="the name of an emitter")
    series: Annotated[int, whole(1, 1000)] = 1
    parallel: Annotated[int, whole(1, 1000)] = 1
    current_a: Annotated[Ampere, POSITIVE]
    junction_limit_c: Celsius
    solder_point: Annotated[tuple[Name, ...], BeforeValidator(_listed)] = Field(
        description="the node the emitters are soldered to"
    )
    forward_voltage_offset_v: Annotated[tuple[Volt, ...], BeforeValidator(_listed)] = (0.0,)

    @model_validator(mode="after")
    def _agree(self) -> Self:
        emitters = self.series * self.parallel
        if len(self.solder_point) not in (1, emitters):
            due = f"one node, or {emitters}: one for each emitter, branch by branch"
            raise wrong(due, found=f"{len(self.solder_point)} nodes", key=("solder_point",))
        if len(self.forward_voltage_offset_v) not in (1, self.parallel):
            due = f"one voltage, or {self.parallel}: one for each parallel branch"
            found = f"{len(self.forward_voltage_offset_v)} voltages"
            raise wrong(due, found=found, key=("forward_voltage_offset",))
        return self

    @property
    def solder_points(self) -> tuple[str, ...]:
        """The node of each emitter, branch by branch (series x parallel entries)."""
        if len(self.solder_point) == 1:
            return self.solder_point * (self.series * self.parallel)
        return self.solder_point

    @property
    def offsets_v(self) -> tuple[float, ...]:
        """The forward voltage offset of one emitter of each parallel branch [V]."""
        if len(self.forward_voltage_offset_v) == 1:
            return self.forward_voltage_offset_v * self.parallel
        return self.forward_voltage_offset_v
