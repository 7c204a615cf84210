"""A promise that was broken: what a failing test says, and what its report is made of."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile

if TYPE_CHECKING:
    from derate.loop.run import Result


class PromiseBrokenError(AssertionError):
    """What broke in a sentence, and the history in which it did, as far as there is one.

    ``lamp``: the unit that was run; ``firmware``: the lamp whose firmware it carried, None for its
    own; ``profile``: what it lived through; ``keys``: the same as a profile file has it, empty
    where that alone does not replay it; ``seed`` and ``unit``: of its noise.
    """

    def __init__(
        self,
        sentence: str,
        lamp: Lamp,
        profile: Profile | None = None,
        *,
        seed: int = 0,
        unit: int = 0,
        firmware: Lamp | None = None,
        keys: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(sentence)
        self.sentence, self.lamp, self.profile = sentence, lamp, profile
        self.seed, self.unit, self.firmware = seed, unit, firmware
        self.keys: Mapping[str, Any] = keys or {}

    def replayed(self) -> "Result | None":
        """The run on the timeline; None where there is no profile."""
        from derate.loop.body import body_for
        from derate.loop.run import run
        from derate.sensing.chain import chains_of

        if self.profile is None:
            return None
        own = self.firmware
        body = body_for(own, chains_of(own)) if own is not None else None
        return run(
            self.lamp,
            self.profile,
            profile_name="counterexample",
            body=body,
            seed=self.seed,
            unit=self.unit,
        )
