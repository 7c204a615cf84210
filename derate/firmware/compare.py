"""One controller on two machines: where do they first differ, over the same codes and requests."""

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from derate.firmware.host import HostBody
from derate.firmware.processor import Answers, Codes
from derate.firmware.walks import Inputs

STATUS_MASK = 0xFFFF
LIMIT_SHIFT = 16
MOST_STATES = 16
"""Of each recording, as many states have all codes tried in them; fewer with more bits."""
ROWS_OF_ALL_CODES = 1 << 16


class Side(Protocol):
    """A controller somewhere that takes rows."""

    state: bytes

    def begin(self) -> None:
        """Begin as after a reset."""

    def run(self, codes: Codes, requests: Codes, *, fresh: bool = False) -> Answers:
        """Steps for rows of codes and requests; ``fresh``: each from the state as it is now."""


class HostSide:
    """The controller on this machine."""

    def __init__(self, body: HostBody) -> None:
        self.body = body
        self.channels = body.channels

    @property
    def state(self) -> bytes:
        """All memory of the controller, as it lies."""
        return self.body.state

    @state.setter
    def state(self, memory: bytes) -> None:
        """Go on from an earlier state."""
        self.body.state = memory

    def begin(self) -> None:
        """Begin as after a reset."""
        self.body.start()

    def run(self, codes: Codes, requests: Codes, *, fresh: bool = False) -> Answers:
        """Steps for rows of codes and requests; ``fresh``: each from the state as it is now."""
        answers = np.zeros(len(codes), np.uint32)
        duties = np.zeros((len(codes), self.channels), np.uint16)
        state = self.body.state
        for row in range(len(codes)):
            if fresh:
                self.body.state = state
            command = self.body.step(codes[row], requests[row])
            answers[row] = command.limit_q15 << LIMIT_SHIFT | command.status
            duties[row] = command.duties_q15
        if fresh:
            self.body.state = state
        return Answers(answers, duties)


class Command(NamedTuple):
    """What came out of one step."""

    limit_q15: int
    status: int
    duties_q15: tuple[int, ...]


class Difference(NamedTuple):
    """The first step at which two machines differ, and their states before it, in bytes."""

    inputs: str
    tick: int
    codes: tuple[int, ...]
    requests_q15: tuple[int, ...]
    expected: Command
    found: Command
    expected_state: bytes
    found_state: bytes
    steps_that_differ: int


def run_through(side: Side, inputs: Inputs) -> Answers:
    """A side through inputs from its beginning."""
    side.begin()
    return side.run(inputs.codes, inputs.requests)


def first_difference(
    expected: Answers, found: Answers, inputs: Inputs, sides: tuple[Side, Side]
) -> Difference | None:
    """Where two sides first differ over the same inputs, run again to there for their states."""
    apart = differing(expected, found)
    if not apart.any():
        return None
    tick = int(np.argmax(apart))
    here, there = (state_before(side, inputs, tick) for side in sides)
    return told(inputs, tick, expected, found, here, there)


def told(
    inputs: Inputs, row: int, expected: Answers, found: Answers, here: bytes, there: bytes
) -> Difference:
    """A row at which two sides differ; ``here`` and ``there`` are their states before it."""
    return Difference(
        inputs=inputs.name,
        tick=row,
        codes=tuple(inputs.codes[row].tolist()),
        requests_q15=tuple(inputs.requests[row].tolist()),
        expected=command_at(expected, row),
        found=command_at(found, row),
        expected_state=here,
        found_state=there,
        steps_that_differ=int(differing(expected, found).sum()),
    )


def state_before(side: Side, inputs: Inputs, tick: int) -> bytes:
    """A side's state before a step, run to there from its beginning."""
    side.begin()
    side.run(inputs.codes[:tick], inputs.requests[:tick])
    return side.state


def differing(expected: Answers, found: Answers) -> NDArray[np.bool_]:
    """Which of the rows that both have differ in limit, status or a duty."""
    rows = min(len(expected.answers), len(found.answers))
    apart = expected.answers[:rows] != found.answers[:rows]
    return apart | (expected.duties[:rows] != found.duties[:rows]).any(axis=1)


def command_at(answers: Answers, row: int) -> Command:
    """The command of a row."""
    answer = int(answers.answers[row])
    duties = tuple(answers.duties[row].tolist())
    return Command(answer >> LIMIT_SHIFT, answer & STATUS_MASK, duties)


def states_to_try(answers: Answers, codes: int) -> list[int]:
    """Ticks whose states shall meet all codes: one of each status, the others evenly spread."""
    most = max(min(MOST_STATES, ROWS_OF_ALL_CODES // codes), 2)
    _, first = np.unique(answers.answers & STATUS_MASK, return_index=True)
    chosen = sorted(first.tolist())[:most]
    spread = np.linspace(0, len(answers.answers) - 1, most).astype(int).tolist()
    return sorted({*chosen, *spread[: most - len(chosen)]})


def all_codes(inputs: Inputs, tick: int, codes: int) -> Inputs:
    """Every code of every sensor, the other sensors as they are at a tick."""
    sensors = inputs.codes.shape[1]
    rows = np.repeat(inputs.codes[tick][None], codes * sensors, axis=0)
    for sensor in range(sensors):
        rows[sensor * codes : (sensor + 1) * codes, sensor] = np.arange(codes)
    requests = np.repeat(inputs.requests[tick][None], len(rows), axis=0)
    return Inputs(f"every code after step {tick} of {inputs.name}", rows, requests)


def run_all_codes(side: Side, inputs: Inputs, ticks: Sequence[int], codes: int) -> list[Answers]:
    """What a side answers to every code in the states that it has after each of ``ticks``."""
    found: list[Answers] = []
    side.begin()
    done = 0
    for tick in ticks:
        step = side.run(inputs.codes[done : tick + 1], inputs.requests[done : tick + 1])
        if step.fault is not None:
            return [*found, step]
        done = tick + 1
        every = all_codes(inputs, tick, codes)
        found.append(side.run(every.codes, every.requests, fresh=True))
    return found
