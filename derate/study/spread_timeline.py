"""Units that the batch clock cannot run, one by one on the reference clock, to the same figures."""

from collections.abc import Sequence

import numpy as np

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.loop.body import body_for
from derate.loop.cycle import SMALLEST_SWING, steady_windows, turning_points
from derate.loop.merit import SECONDS_PER_HOUR, channel_merits, node_merits, share_of, throttling
from derate.loop.run import trace_of
from derate.loop.timeline import Timeline
from derate.loop.trace import Trace
from derate.loop.units import Draws, draw, unit_lamp, unit_profile
from derate.sensing.chain import chains_of
from derate.study.spread_units import Figures, Job, Units, joined, places_of


def slow_because(lamp: Lamp) -> str | None:
    """Why the units of a lamp cannot be run in batch, None where they can.

    Raises InputError for a real board, since there is one of it and not one for each unit.
    """
    if lamp.controller.serial_port is not None:
        found = f'{lamp.source or lamp.name}: controller.body: found "{lamp.controller.body}"'
        raise InputError(f'{found}, due "c": one board cannot stand for many units')
    if lamp.controller.body != "c":
        return f'controller.body is "{lamp.controller.body}" and the batch clock runs the C'
    if lamp.controller.c is not None:
        return "controller.c names C of your own and the batch clock runs the reference"
    return None


def ready(job: Job, threads: int | None = None) -> "Units | OneByOne":
    """The job made ready for the quick clock if that can run it, else for the reference clock."""
    return OneByOne(job) if slow_because(job.lamp) else Units(job, threads)


class OneByOne:
    """A job whose units are run one by one on the timeline."""

    share = 4

    def __init__(self, job: Job) -> None:
        self.job = job
        self.body = body_for(job.lamp, chains_of(job.lamp))
        self.lamp = job.lamp.with_changes({"profiles": None})
        self.limits_c = np.array([place.limit_c for place in places_of(job.lamp)])

    def figures(self, units: Sequence[int]) -> Figures:
        """Draw the units and run them; raises InputError for one that cannot be."""
        draws = draw(self.lamp, units, self.job.seed)
        return joined(self._unit(draws, unit) for unit in draws.units.tolist())

    def _unit(self, draws: Draws, unit: int) -> Figures:
        lamp = unit_lamp(self.lamp, draws, unit)
        recording = Timeline(
            lamp,
            unit_profile(self.job.profile, draws, unit),
            self.body,
            chains_of(lamp),
            seed=self.job.seed,
            unit=unit,
        ).run()
        channels, nodes = channel_merits(lamp, recording), node_merits(lamp, recording)
        trace, tally = trace_of(lamp, recording), recording.plant.tally
        light, asked = float(tally.light_lm_s.sum()), float(tally.asked_lm_s.sum())
        peaks_c = [one.peak_junction_c for one in channels.values()]
        peaks_c += [one.peak_c for one in nodes.values()]
        return Figures(
            units=np.array([unit]),
            peak_c=np.array([peaks_c]),
            margin_k=np.array([(self.limits_c - peaks_c).min()]),
            light_lm_h=np.array([light / SECONDS_PER_HOUR]),
            share=np.array([share_of(light, asked)]),
            throttled_s=np.array([throttling(trace)[1]]),
            reversals=np.array([_reversals(trace)]),
            ran_away=np.array([recording.ran_away]),
        )


def _reversals(trace: Trace) -> int:
    """Turns of the limit in the stretches where no input changes."""
    requests = [trace[name] for name in trace.names if name.startswith("request_")]
    held = np.minimum(trace["limit"], np.max(requests, axis=0))
    turns = (
        turning_points(held[first : last + 1], SMALLEST_SWING)
        for first, last in steady_windows(trace)
    )
    return sum(max(0, len(found) - 1) for found in turns)  # the first turn is where it began
