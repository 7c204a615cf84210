"""Where a plant is, and what is constant while it runs."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import Emission, Lit, dark
from derate.plant.factors import LENGTH, MEMO_ROWS, MEMO_SLOTS
from derate.plant.kernel import kernel
from derate.plant.modes import Modes
from derate.plant.ripple import CREST_SLOTS, DUTY
from derate.plant.surface.exchange import Exchange

Array = NDArray[np.float64]

BEGIN, HELD, FINISH = range(3)
"""Stages of a step: rows of heat and output, of the causes and of the temperatures."""
NOTHING_SEEN = np.array([[np.inf], [-np.inf]])
"""Least and largest of nothing."""


class Machine(NamedTuple):
    """What is constant while a plant runs.

    ``junction``: index of the first junction node; ``period_s``: of the PWM, 0 where the current is
    dimmed [s]; ``every_ripple``: whether the ripple is wanted after every step, and not only where
    it may be a peak.
    """

    emission: Emission
    exchange: Exchange
    limits_c: Array
    junction: int
    period_s: float
    every_ripple: bool


class State(NamedTuple):
    """Where the plant is, and room to work in; rows are the stages of a step.

    ``cause`` (3, n + U + M): modes, heat inputs [W], ambients [degC]; ``node_c`` (3, N) [degC];
    ``felt`` (U): temperature of the place of each surface's heat input; ``push`` (n);
    ``moved`` (n), the change of each mode in the step, and ``pull`` (n), what drove it, per second;
    ``output`` (3, 3, channels); ``duty`` (channels);
    ``seen_c`` (2, G) and ``seen_a`` (2, B): least and largest junction temperature [degC] and
    branch current [A] while lit; ``ripple_k`` (G): crest of each junction above its mean [K], or a
    bound on it; ``swell_k_per_w`` (G, G): as in ``derate.plant.swell``;
    ``steps`` and ``crests``: what step lengths and duties do, as far as they were met in this
    configuration; ``lit``: currents.
    """

    cause: Array
    node_c: Array
    felt: Array
    push: Array
    moved: Array
    pull: Array
    output: Array
    duty: Array
    seen_c: Array
    seen_a: Array
    ripple_k: Array
    swell_k_per_w: Array
    steps: Array
    crests: Array
    lit: Lit


class Interval(NamedTuple):
    """What acts on the plant: per channel, per channel, per ambient [degC], per sensor [W].

    ``airflow`` (1): factor on the airflow along the surfaces [-].
    """

    duties: Array
    requests: Array
    ambient_c: Array
    sensor_heat_w: Array
    airflow: Array


def state_of(modes: Modes, emission: Emission, node_c: Array) -> State:
    """State at the node temperatures ``node_c`` [degC], dark, the ambients not yet known."""
    count, channels = len(modes.rate), len(emission.channel)
    cause = np.zeros((3, modes.response.shape[0]))
    cause[BEGIN, :count] = modes.project @ node_c
    widest = max(modes.drive.shape[0], count, 2)
    return State(
        cause=cause,
        node_c=np.tile(node_c, (3, 1)),
        felt=np.zeros(len(modes.felt)),
        push=np.zeros(count),
        moved=np.zeros(count),
        pull=np.zeros(count),
        output=np.zeros((3, 3, channels)),
        duty=np.zeros(channels),
        seen_c=NOTHING_SEEN * np.ones(len(emission.group)),
        seen_a=NOTHING_SEEN * np.ones(len(emission.branch)),
        ripple_k=np.zeros(len(emission.group)),
        swell_k_per_w=np.full(2 * (max(1, len(emission.group)),), np.nan),
        steps=np.full((MEMO_SLOTS, MEMO_ROWS, widest), np.nan),
        crests=np.full((CREST_SLOTS, 2, count), np.nan),
        lit=dark(emission),
    )


@kernel
def project(modes: Modes, state: State) -> None:
    """Take the temperatures of the nodes of capacity over into other modes; forget their memos."""
    for i in range(modes.project.shape[0]):
        total = 0.0
        for j in range(modes.project.shape[1]):
            total += modes.project[i, j] * state.node_c[BEGIN, j]
        state.cause[BEGIN, i] = total
    for slot in range(MEMO_SLOTS):
        state.steps[slot, LENGTH, 0] = np.nan
    for slot in range(CREST_SLOTS):
        state.crests[slot, DUTY, 0] = np.nan
    state.swell_k_per_w[0, 0] = np.nan
