"""The independent cut-out: a switch at the LEDs' supply that opens where it gets too hot.

It is hardware, a bimetal switch or a thermal fuse, and knows nothing of the controller, whose own
`cutoff` is a different thing.
"""

from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from derate.lamp.part import Name, Part, Text
from derate.lamp.quantities import NOT_NEGATIVE, Celsius, Kelvin, Second
from derate.lamp.sentence import Key, Noted, demand_known, wrong

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

PLACE = "place."
"""Before the name of a sensor: where that sensor sits."""


class Cutout(Part):
    """A switch that opens ``opens`` (every channel by default) whatever the controller says.

    Its element sits at ``at``: a node, the place of a sensor ("place.ntc") or of an emitter on the
    board ("solder.flood.1"), which it follows with the time constant ``lag_s`` [s]. It opens when
    the element reaches ``trip_c`` [degC], within ``tolerance_k`` [K] to either side, for good
    ("one-shot") or until it has cooled to ``reset_c`` [degC], within ``reset_tolerance_k`` [K].
    """

    at: Text = Field(description='the place it sits on, such as "board" or "place.ntc"')
    kind: Literal["one-shot", "resetting"] = Field(description='"one-shot" or "resetting"')
    trip_c: Celsius
    tolerance_k: Annotated[Kelvin, NOT_NEGATIVE] = 0.0
    reset_c: Celsius | None = None
    reset_tolerance_k: Annotated[Kelvin, NOT_NEGATIVE] = 0.0
    lag_s: Second = 0.0
    opens: tuple[Name, ...] = ()
    about: Text = ""

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.kind == "one-shot":
            for key in ("reset_c", "reset_tolerance_k"):
                if key in self.model_fields_set and getattr(self, key) is not None:
                    shown = key.rpartition("_")[0]
                    raise wrong('no such key for the kind "one-shot"', key=(shown,))
            return self
        if self.reset_c is None:
            raise wrong('a temperature such as "60 degC"', found="nothing", key=("reset",))
        if self.reset_c + self.reset_tolerance_k >= self.least_trip_c:
            due = (
                f"less than the least trip temperature, {self.least_trip_c:g} degC, its own"
                " tolerance included"
            )
            raise wrong(due, key=("reset",))
        return self

    @property
    def least_trip_c(self) -> float:
        """The lowest temperature of the element at which one may open [degC]."""
        return self.trip_c - self.tolerance_k

    @property
    def most_trip_c(self) -> float:
        """The temperature of the element at which the slowest one opens [degC]."""
        return self.trip_c + self.tolerance_k

    def channels(self, lamp: "Lamp") -> tuple[str, ...]:
        """The channels that it opens."""
        return self.opens or tuple(lamp.channels)


def check_cutouts(lamp: "Lamp") -> None:
    """Raises what a lamp's cut-outs demand of its nodes, channels and missions."""
    places = [*lamp.named_nodes, *(PLACE + sensor for sensor in lamp.sensors), *lamp.places()]
    known = list(dict.fromkeys(places))
    coldest_c = min((min(profile.ambients_c) for profile in lamp.profiles.values()), default=None)
    noted = Noted()
    for name, cutout in lamp.cutouts.items():
        key: Key = ("cutouts", name)
        with noted.one():
            demand_known(cutout.at, known, "a place that it can sit on", (*key, "at"))
        for index, channel in enumerate(cutout.opens):
            where: Key = (*key, "opens", index)
            with noted.one():
                demand_known(channel, lamp.channels, "a channel", where)
                if channel in cutout.opens[:index]:
                    raise wrong("a channel named once", key=where)
        if coldest_c is not None and cutout.least_trip_c <= coldest_c:
            due = (
                "a temperature that, less its tolerance, lies above the lowest ambient of any"
                f" profile, {coldest_c:g} degC"
            )
            with noted.one():
                raise wrong(due, key=(*key, "trip"))
    noted.demand_none()
