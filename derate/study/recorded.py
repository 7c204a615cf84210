"""What the controller on the host was given and gave: profiles, a walk, every code in states."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from derate.control.command import Command
from derate.firmware.compare import (
    HostSide,
    run_all_codes,
    run_through,
    states_to_try,
)
from derate.firmware.host import HostBody
from derate.firmware.processor import Answers
from derate.firmware.walks import ROWS, Inputs, random_walk
from derate.lamp.lamp import Lamp
from derate.loop.timeline import Stop, Timeline
from derate.sensing.chain import Chain


@dataclass(frozen=True)
class Recorded:
    """Inputs, and what the host answered; for ``ticks``, what it answered to every code there."""

    inputs: Inputs
    answers: Answers
    ticks: tuple[int, ...]
    to_every_code: tuple[Answers, ...]

    @property
    def steps(self) -> int:
        """How many steps were taken in all."""
        return len(self.answers.answers) + sum(len(one.answers) for one in self.to_every_code)


class _Recorder:
    """A body that keeps what it was given."""

    def __init__(self, body: HostBody) -> None:
        self.body = body
        self.codes: list[list[int]] = []
        self.requests: list[list[int]] = []

    def start(self) -> None:
        """Begin as after a reset."""
        self.body.start()

    def step(self, codes: Sequence[int], requests_q15: Sequence[int]) -> Command:
        """One control period."""
        self.codes.append(list(codes))
        self.requests.append(list(requests_q15))
        return self.body.step(codes, requests_q15)


def most_codes(chains: Sequence[Chain]) -> int:
    """How many codes the finest ADC of a lamp has."""
    return 1 << max(chain.sensor.adc.bits for chain in chains)


def short_walk(lamp: Lamp, chains: Sequence[Chain], rows: int) -> Inputs:
    """A random walk for a lamp."""
    return random_walk(len(lamp.sensors), len(lamp.channels), most_codes(chains), rows=rows)


def record(
    lamp: Lamp,
    chains: tuple[Chain, ...],
    *,
    rows: int | None,
    doing: Callable[[str], None],
    stop: Stop,
) -> list[Recorded]:
    """Every profile through the closed loop on the host, and the walk; ``rows``: at most of each.

    Without a profile, the walk alone.
    """
    host = HostSide(HostBody(lamp, chains))
    found = []
    for name, profile in lamp.profiles.items():
        doing(f"recording {name}")
        kept = _Recorder(host.body)
        Timeline(lamp, profile, kept, chains, stop=stop).run()
        codes, requests = (np.array(a[:rows], np.uint16) for a in (kept.codes, kept.requests))
        found.append(_recorded(host, Inputs(f"profile {name}", codes, requests), chains, True))
    doing("walking at random")
    walk = short_walk(lamp, chains, rows or ROWS)
    found.append(_recorded(host, walk, chains, not found))
    return found


def _recorded(host: HostSide, inputs: Inputs, chains: Sequence[Chain], every: bool) -> Recorded:
    """The host through inputs; ``every``: also every code in states on the way."""
    answers = run_through(host, inputs)
    codes = most_codes(chains)
    ticks = states_to_try(answers, codes) if every else []
    tried = run_all_codes(host, inputs, ticks, codes)
    return Recorded(inputs, answers, tuple(ticks), tuple(tried))
