"""A controller alone on a rig: codes from thermistors that warm with the light, any faults, resets.

The rig is far simpler than a lamp: every thermistor moves to the ambient plus a rise in proportion
to the mean duty, with one time constant. What is asked here is not how hot the lamp gets but what
the controller answers to whatever order of events, and a simple rig has no order it cannot reach.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from derate.control import command
from derate.control.command import ONE_Q15, Command
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Event
from derate.lamp.quantities import Source
from derate.loop.body import Body, body_for, simulated
from derate.sensing.chain import Chain, chains_of

TAU_TICKS = 10
"""Time constant of the rig, in control periods."""
OVERHEATING = 1.3
"""At full duty in 25 degC the rig would go so far towards the cut-off, and beyond it."""
ROOM_C = 25.0
PATIENCE = 3
"""Control periods after which a broken wire must have been seen, and the cut-off acted."""
SURE_K = 5.0
"""A thermistor so far above the cut-off is read above it, whatever the chain's errors."""
WIRES = ("sensor open", "sensor short")
"""Faults that a code tells by itself, at once and for as long as they are there."""


@dataclass
class Breach:
    """What a controller did against a promise, and at which control period."""

    tick: int
    sentence: str


@dataclass
class Rig:
    """A lamp's controller with its chains; ``step`` is one control period.

    ``requests_q15``: of each channel; ``thermistor_c`` [degC]; ``broken``: the fault of each sensor
    by its name; ``broken_for``, ``healthy_for``: control periods since a wire broke or all healed.
    """

    lamp: Lamp
    body: Body | None = None
    ambient_c: float = ROOM_C
    tick: int = 0
    broken_for: int = 0
    healthy_for: int = 0
    hot_for: int = 0
    was_broken: bool = False
    broken: dict[str, Event] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.lamp = simulated(self.lamp)
        self.chains: tuple[Chain, ...] = chains_of(self.lamp)
        self.body = self.body or body_for(self.lamp, self.chains)
        self.requests_q15 = [0] * len(self.lamp.channels)
        self.rise_k = OVERHEATING * max(0.0, self.lamp.controller.cutoff_c - ROOM_C)
        self.begin()

    def begin(self) -> None:
        """Cold and healthy, the controller as after a reset."""
        self.tick = self.broken_for = self.healthy_for = self.hot_for = 0
        self.was_broken, self.broken = False, {}
        self.ambient_c = ROOM_C
        self.thermistor_c = [ROOM_C] * len(self.chains)
        self.requests_q15 = [0] * len(self.lamp.channels)
        self.codes = self._codes()
        self.reset()

    def reset(self) -> None:
        """Power off and on: the controller forgets, and the rig stays as hot as it is."""
        assert self.body is not None
        self.body.start()
        self.was_broken = False
        self.healthy_for = self.broken_for = self.hot_for = 0
        self.command = Command((0,) * len(self.lamp.channels), ONE_Q15, 0)

    def breaks(self, sensor: str, kind: str) -> None:
        """A fault of a sensor begins: "sensor open", "sensor short" or "sensor stuck"."""
        event = {"at": 0.0, "kind": kind, "sensor": sensor}
        self.broken[sensor] = Event.model_validate(event, context=Source(None, numbers=True))

    def heals(self, sensor: str) -> None:
        """The fault of a sensor ends."""
        self.broken.pop(sensor, None)

    @property
    def wires(self) -> bool:
        """Whether a wire of any sensor is broken."""
        return any(event.kind in WIRES for event in self.broken.values())

    def step(self) -> Command:
        """One control period."""
        assert self.body is not None
        duty = sum(self.command.duties_q15) / ONE_Q15 / len(self.lamp.channels)
        goal_c = self.ambient_c + self.rise_k * duty
        share = 1.0 - math.exp(-1.0 / TAU_TICKS)
        self.thermistor_c = [c + share * (goal_c - c) for c in self.thermistor_c]
        self.codes = self._codes()
        self.command = self.body.step(self.codes, self.requests_q15)
        self._count()
        return self.command

    def breaches(self) -> Iterator[Breach]:
        """What the last step did against what its settings promise."""
        settings, given = self.lamp.controller, self.command
        for name, duty, request in zip(
            self.lamp.channels, given.duties_q15, self.requests_q15, strict=True
        ):
            if duty > min(request, ONE_Q15):
                yield self._breach(
                    f"{name} is driven at {_share(duty)}, asked for {_share(request)}"
                )
        most, safe_q15 = max(given.duties_q15), round(settings.safe_duty * ONE_Q15)
        if self.broken_for > PATIENCE and most > safe_q15:
            kinds = ", ".join(f"{event.kind} ({name})" for name, event in self.broken.items())
            yield self._breach(
                f"{kinds} for {self.broken_for} control periods, and {_share(most)} is driven;"
                f" safe is {_share(safe_q15)}"
            )
        if self.hot_for > PATIENCE and most > 0:
            yield self._breach(
                f"the thermistor is at {max(self.thermistor_c):.1f} degC, above the cut-off at"
                f" {settings.cutoff_c:g} degC, and {_share(most)} is driven"
            )
        yield from self._recovery()

    def _recovery(self) -> Iterator[Breach]:
        """A fault ends by itself so long after its cause, or only by a reset, as is set."""
        settings = self.lamp.controller
        seen = bool(self.command.status & command.FAULT)
        patient = PATIENCE + math.ceil(settings.clear_after_s / self.lamp.timing.control_period_s)
        other = self.command.status & (command.JUMP | command.DISAGREE | command.STUCK)
        if self.healthy_for > patient and seen and not settings.latch and not other:
            yield self._breach(
                f"all sensors are healthy for {self.healthy_for} control periods, and a fault is"
                f" still in force; it should clear after {settings.clear_after_s:g} s"
            )
        if settings.latch and self.was_broken and not seen:
            yield self._breach("a fault that is to latch is over without a reset")

    def _count(self) -> None:
        """How long it is broken, healthy, too hot."""
        self.tick += 1
        self.broken_for = self.broken_for + 1 if self.wires else 0
        self.healthy_for = 0 if self.broken else self.healthy_for + 1
        self.was_broken = self.was_broken or self.broken_for > PATIENCE
        hot = not self.broken and min(self.thermistor_c) > self.lamp.controller.cutoff_c + SURE_K
        self.hot_for = self.hot_for + 1 if hot else 0

    def _codes(self) -> list[int]:
        held = getattr(self, "codes", [0] * len(self.chains))
        return [
            chain.sense(c, tick=self.tick, fault=self.broken.get(name), held_code=code)
            for name, chain, c, code in zip(
                self.lamp.sensors, self.chains, self.thermistor_c, held, strict=True
            )
        ]

    def _breach(self, sentence: str) -> Breach:
        return Breach(self.tick, sentence)


def request_q15(shares: Sequence[float]) -> list[int]:
    """Requests [0..1] as the controller is told them."""
    return [round(share * ONE_Q15) for share in shares]


def _share(duty_q15: int) -> str:
    return f"{100.0 * duty_q15 / ONE_Q15:.3g} %"
