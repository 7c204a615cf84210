"""Where a plant is, and what is constant while it runs."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.plant.emission import Emission, Lit, dark
from derate.plant.kernel import kernel
from derate.plant.modes import Modes

Array = NDArray[np.float64]

BEGIN, HELD, FINISH = range(3)
"""Stages of a step: rows of heat and output, of the causes and of the temperatures."""
NOTHING_SEEN = np.array([[np.inf], [-np.inf]])
"""Least and largest of nothing."""


class Machine(NamedTuple):
    """What is constant while a plant runs; ``junction``: index of the first junction node."""

    emission: Emission
    limits_c: Array
    junction: int


class State(NamedTuple):
    """Where the plant is, and room to work in; rows are the stages of a step.

    ``cause`` (3, n + U + M): modes, heat inputs [W], ambients [degC]; ``node_c`` (3, N) [degC];
    ``push`` (n); ``moved`` (n); ``output`` (3, 3, channels); ``duty`` (channels); ``seen_c`` (2, G)
    and ``seen_a`` (2, B): least and largest junction temperature [degC] and branch current [A]
    while lit; ``lit``: currents.
    """

    cause: Array
    node_c: Array
    push: Array
    moved: Array
    output: Array
    duty: Array
    seen_c: Array
    seen_a: Array
    lit: Lit


class Interval(NamedTuple):
    """What acts on the plant: per channel, per channel, per ambient [degC], per sensor [W]."""

    duties: Array
    requests: Array
    ambient_c: Array
    sensor_heat_w: Array


def state_of(modes: Modes, emission: Emission, node_c: Array) -> State:
    """State at the node temperatures ``node_c`` [degC], dark, the ambients not yet known."""
    count, channels = len(modes.rate), len(emission.channel)
    cause = np.zeros((3, modes.response.shape[0]))
    cause[BEGIN, :count] = modes.project @ node_c
    return State(
        cause=cause,
        node_c=np.tile(node_c, (3, 1)),
        push=np.zeros(count),
        moved=np.zeros(count),
        output=np.zeros((3, 3, channels)),
        duty=np.zeros(channels),
        seen_c=NOTHING_SEEN * np.ones(len(emission.group)),
        seen_a=NOTHING_SEEN * np.ones(len(emission.branch)),
        lit=dark(emission),
    )


@kernel
def project(modes: Modes, state: State) -> None:
    """Take the temperatures of the nodes of capacity over into other modes."""
    for i in range(modes.project.shape[0]):
        total = 0.0
        for j in range(modes.project.shape[1]):
            total += modes.project[i, j] * state.node_c[BEGIN, j]
        state.cause[BEGIN, i] = total
