"""A lamp's controller in C on an emulated core."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from derate.control.command import Command
from derate.firmware.image import Image
from derate.firmware.processor import Processor
from derate.firmware.sources import Sources, sources_of
from derate.firmware.target import TARGETS, Target
from derate.firmware.target_build import build_image
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain, chains_of

STATUS_MASK = 0xFFFF
LIMIT_SHIFT = 16
STEPS_UNCHECKED = 256
"""Steps from one look at the paint around the controller's memory to the next."""


def image_of(sources: Sources, target: Target) -> Image:
    """The program of a controller for a target, from the cache when it was built before."""
    return build_image(target, sources.files, sources.headers, key_text=sources.key_text)


def processor_for(image: Image, target: Target, sensors: int, channels: int) -> Processor:
    """A core with that program, started; raises FirmwareError when it does what it must not."""
    if target.kind == "simavr":
        from derate.firmware.core_simavr import SimavrProcessor

        return SimavrProcessor(target, image, sensors, channels)
    from derate.firmware.core_unicorn import UnicornProcessor

    return UnicornProcessor(target, image, sensors, channels)


class EmulatedBody:
    """The C controller of ``lamp`` on a target; ``start`` and ``step`` as in HostBody.

    Raises InputError when a setting cannot be held by the C, SurroundingsError where a compiler or
    an emulator is missing, FirmwareError when the controller leaves its memory or never returns.
    """

    def __init__(self, lamp: Lamp, chains: Sequence[Chain] | None, target_name: str) -> None:
        target = TARGETS[target_name]
        sources = sources_of(lamp, chains_of(lamp) if chains is None else chains)
        image = image_of(sources, target)
        self.processor = processor_for(image, target, len(lamp.sensors), len(lamp.channels))
        self._codes, self._requests, self._duties, self._answer = self.processor.one_step()
        self._unchecked = 0

    def start(self) -> None:
        """Begin as after a reset."""
        self.processor.begin()
        self.processor.one_step()

    def step(
        self,
        codes: Sequence[int] | NDArray[np.uint16],
        requests_q15: Sequence[int] | NDArray[np.uint16],
    ) -> Command:
        """One control period: codes (one a sensor) and requests (Q15, one a channel) to duties."""
        self._codes[:] = codes
        self._requests[:] = requests_q15
        self.processor.step_once()
        self._unchecked += 1
        if self._unchecked >= STEPS_UNCHECKED:
            self._unchecked = 0
            self.processor.check()
        answer = int(self._answer[0])
        return Command(tuple(self._duties.tolist()), answer >> LIMIT_SHIFT, answer & STATUS_MASK)
