"""An emulated core with a controller on it: the part that is the same on every core."""

from abc import ABC, abstractmethod
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.errors import FirmwareError
from derate.firmware.image import Image
from derate.firmware.mailbox import (
    INPUTS,
    ONE_STEP,
    PAINT,
    POINTERS,
    ROWS,
    SIZE,
    START,
    STEP,
    Layout,
    Region,
    mail_type,
    slack,
)
from derate.firmware.target import Target

Codes = NDArray[np.uint16]
MOST_STATE = 32768
"""Bytes of state that a controller may ask for."""


class Answers(NamedTuple):
    """What a controller gave: ``answers`` (status | limit << 16) and duties, a row a step.

    ``fault``: the sentence about what ended the rows before their time, None when all were run.
    """

    answers: NDArray[np.uint32]
    duties: Codes
    fault: str | None = None


class Count(NamedTuple):
    """What steps took, a row each."""

    instructions: NDArray[np.uint32]
    cycles: NDArray[np.uint32]


class Processor(ABC):
    """A controller on an emulated core; ``sensors`` codes and ``channels`` requests a step.

    Raises FirmwareError, a sentence, when the controller leaves its memory or never returns.
    """

    layout: Layout

    def __init__(self, target: Target, image: Image, sensors: int, channels: int) -> None:
        self.target, self.image = target, image
        self.sensors, self.channels = sensors, channels
        self._go_at, self._done_at = (image.symbols[f"driver_{end}"] for end in ("go", "done"))
        self._load(0)
        self._mail(SIZE)
        self._go()
        self.state_size = self._asked_size()
        self._load(self.state_size)
        self._place_mail()
        self.begin()

    # -- what a core must have ---------------------------------------------------------------

    @abstractmethod
    def view(self, address: int, size: int) -> NDArray[np.uint8]:
        """The core's memory there, to read and to write."""

    @abstractmethod
    def _lay(self, state_size: int) -> Layout:
        """Make memory for a state of that size; every region painted."""

    @abstractmethod
    def _go(self) -> None:
        """Let the driver do its task; raises FirmwareError."""

    @abstractmethod
    def count(self, rows: int) -> Count:
        """Count the steps of the next run, at most so many; filled as they run."""

    @abstractmethod
    def count_no_more(self) -> None:
        """Run at full speed again."""

    # -- what they have in common --------------------------------------------------------------

    def begin(self) -> None:
        """Begin as after a reset: variables as linked, state painted, controller started."""
        self._load_variables()
        self.region("state")[:] = PAINT
        self._mail(START)
        self._go()
        self.check()

    def region(self, name: str) -> NDArray[np.uint8]:
        """The bytes of a region."""
        one = self.layout.regions[name]
        return self.view(one.address, one.size)

    @property
    def state(self) -> bytes:
        """The controller's memory as it lies, without its static variables."""
        return self.region("state").tobytes()

    @state.setter
    def state(self, memory: bytes) -> None:
        """Go on from an earlier state."""
        self.region("state")[:] = np.frombuffer(memory, np.uint8)

    def run(self, codes: Codes, requests: Codes, *, fresh: bool = False) -> Answers:
        """Steps for rows of codes and requests; ``fresh``: each from the state as it is now."""
        answers = np.zeros(len(codes), np.uint32)
        duties = np.zeros((len(codes), self.channels), np.uint16)
        if fresh:
            self.region("saved")[: self.state_size] = self.region("state")
        self.mail["saved"] = self.layout.regions["saved"].address if fresh else 0
        done = 0
        try:
            for start in range(0, len(codes), self.layout.rows):
                some = slice(start, min(start + self.layout.rows, len(codes)))
                self._put("in_codes", codes[some])
                self._put("in_requests", requests[some])
                self._mail(ROWS, some.stop - start)
                self._go()
                answers[some] = self._got("out_answers", some.stop - start, np.uint32, 1)[:, 0]
                duties[some] = self._got("out_duties", some.stop - start, np.uint16, self.channels)
                done = some.stop
                self.check()
                self._check_inputs(codes[some.stop - 1], requests[some.stop - 1])
        except FirmwareError as error:
            return Answers(answers[:done], duties[:done], str(error))
        if fresh:
            self.region("state")[:] = self.region("saved")[: self.state_size]
        return Answers(answers, duties)

    def step_once(self) -> None:
        """One step on the memory of one step, which ``one_step`` gives."""
        self._go()

    def one_step(self) -> tuple[Codes, Codes, Codes, NDArray[np.uint32]]:
        """Codes, requests, duties and answer of one step, each as an array on the core's memory."""
        self._mail(STEP)
        arrays = [self.region(name).view(np.uint16) for name in ("codes", "requests", "duties")]
        return arrays[0], arrays[1], arrays[2], self.mail["answer"]

    def check(self) -> None:
        """Raise FirmwareError when something beside state, inputs or duties was written to."""
        for region in self.layout.guarded:
            found = slack(self.view(region.low, region.high - region.low), region)
            if found is not None:
                raise FirmwareError(f"{self._who()} wrote {self.layout.describe(found)}")
        stack = self.layout.regions["stack"]
        if (self.view(stack.low, stack.address - stack.low) != PAINT).any():
            where = self.layout.describe(stack.address - 1)
            raise FirmwareError(f"{self._who()} wrote {where}")

    def _check_inputs(self, *rows: Codes) -> None:
        """Raise FirmwareError when codes and requests are no longer those of the last row."""
        for name, row in zip(INPUTS, rows, strict=True):
            if (self.region(name).view(np.uint16) != row).any():
                where = self.layout.describe(self.layout.regions[name].address)
                raise FirmwareError(f"{self._who()} wrote {where}")

    def paint_stack(self) -> None:
        """Forget how deep the stack has been."""
        self.region("stack")[:] = PAINT

    @property
    @abstractmethod
    def stack_used(self) -> int:
        """Bytes of stack that the controller took at most since the stack was painted."""

    def _who(self, at: int | None = None) -> str:
        """What did it: the function, the line if known, and where it ran."""
        where = "the controller"
        if at is not None:
            line = self.image.line_at(at)
            where = f"{self.image.function_at(at)}{f' ({line})' if line else ''}"
        return f"on {self.target.name}, {where}"

    def _load(self, state_size: int) -> None:
        self.layout = self._lay(state_size)
        mail = self.view(self._symbol("driver_mail"), mail_type(self.target).itemsize)
        self.mail = mail.view(mail_type(self.target))
        self._load_variables()

    def _symbol(self, name: str) -> int:
        return self.image.symbols[name]

    def _load_variables(self) -> None:
        """Static variables as the linker has them, the others 0."""
        for name in (".data", ".bss"):
            section = self.image.section(name)
            if section.size:
                content = section.content or bytes(section.size)
                self.view(section.address, section.size)[:] = np.frombuffer(content, np.uint8)

    def _asked_size(self) -> int:
        size = int(self.mail["size"][0])
        if not 0 < size <= MOST_STATE:
            raise FirmwareError(
                f"on {self.target.name}, controller_size() returned {size}; 1 to {MOST_STATE}"
                " bytes are due"
            )
        return size

    def _place_mail(self) -> None:
        for name in POINTERS:
            self.mail[name] = self.layout.regions[name].address if name != "saved" else 0
        self.mail["sensors"], self.mail["channels"] = self.sensors, self.channels
        self.mail["size"] = self.state_size

    def _mail(self, task: int, rows: int = 0) -> None:
        self.mail["task"], self.mail["rows"] = task, rows

    def _put(self, name: str, values: Codes) -> None:
        flat = np.ascontiguousarray(values, np.uint16).view(np.uint8).ravel()
        self.region(name)[: len(flat)] = flat

    def _got(self, name: str, rows: int, kind: type, columns: int) -> NDArray:
        size = rows * columns * np.dtype(kind).itemsize
        return self.region(name)[:size].view(kind).reshape(rows, columns)


def regions_in_a_row(
    sizes: dict[str, int], start: int, *, slack_bytes: int
) -> tuple[dict[str, Region], int]:
    """Regions one behind the other from ``start``, those of one step with slack around them.

    Also where they end.
    """
    regions: dict[str, Region] = {}
    at = start
    for name, size in sizes.items():
        around = slack_bytes if name in ONE_STEP else 0
        padded = -(-size // 4) * 4
        regions[name] = Region(name, at + around, size, at, at + around * 2 + padded)
        at += around * 2 + padded
    return regions, at
