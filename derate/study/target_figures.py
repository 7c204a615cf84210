"""What is found out of a controller on its cores: bytes, steps, differences."""

from dataclasses import dataclass

from derate.firmware.compare import Difference
from derate.firmware.target import Target
from derate.lamp.lamp import Lamp
from derate.study.dead_zone import DeadZone


@dataclass(frozen=True)
class Spread:
    """Least, typical (median over the profiles) and most that a step takes."""

    least: int
    typical: int
    most: int


@dataclass(frozen=True)
class OnTarget:
    """A controller on a core: bytes, what a step takes, and where it differs from the host.

    ``fault``: what it did that no firmware may do; ``lacking``: what this machine lacks to try.
    """

    target: Target
    code_bytes: int = 0
    constant_bytes: int = 0
    static_bytes: int = 0
    state_bytes: int = 0
    stack_bytes: int = 0
    instructions: Spread | None = None
    cycles: Spread | None = None
    warnings: tuple[str, ...] = ()
    difference: Difference | None = None
    fault: str | None = None
    lacking: str | None = None

    @property
    def agrees(self) -> bool:
        """Whether it was compared, and does what the host does."""
        return self.instructions is not None and self.fault is None and self.difference is None


@dataclass(frozen=True)
class TargetStudy:
    """A lamp's controller on every core.

    ``own``: it is the user's C; ``compared``: name of inputs to their steps, on each core. Of the
    user's C also ``complaint``, what sanitizers say of it on the host, and ``dead_zone``.
    """

    lamp: Lamp
    own: bool
    cores: tuple[OnTarget, ...]
    compared: dict[str, int]
    clock_hz: float
    source: dict[str, str | None]
    complaint: str | None = None
    unlooked: str | None = None
    dead_zone: DeadZone | None = None

    @property
    def tried(self) -> tuple[OnTarget, ...]:
        """The cores that this machine can emulate."""
        return tuple(core for core in self.cores if core.lacking is None)

    @property
    def agrees(self) -> bool:
        """Whether there are cores to try, and every one does what the host does."""
        clean = self.complaint is None
        return clean and bool(self.tried) and all(core.agrees for core in self.tried)

    def share_of_tick(self, core: OnTarget) -> float | None:
        """Share of the control period that the longest step takes at the clock."""
        if core.cycles is None:
            return None
        return core.cycles.most / self.clock_hz / self.lamp.timing.control_period_s
