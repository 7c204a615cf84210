"""A bare network on the kernel: heat goes straight into its nodes, no emitters."""

import numpy as np
from hypothesis import strategies as st

from derate.plant import advance as motion
from derate.plant.emission import Emission
from derate.plant.modes import modes_of
from derate.plant.network import Network
from derate.plant.state import BEGIN, Interval, Machine, state_of
from derate.plant.surface.exchange import exchange_of
from derate.plant.tally import empty
from tests.plant.invented import lamp

NO_EMITTERS = Emission(
    curves=np.zeros((0, 5, 1, 6)),
    emitter=np.zeros((0, 2)),
    channel_of=np.zeros((0, 3), np.int64),
    channel=np.zeros((0, 3)),
    branch_of=np.zeros((0, 2), np.int64),
    branch=np.zeros((0, 2)),
    group=np.zeros((0, 2)),
    pwm=True,
    supply_per_load=1.0,
    loss_input=-1,
    bypass_ohm=0.0,
    switching_w=0.0,
    bypass_input=-1,
)
NO_SURFACES = exchange_of(lamp(), {})
NOTHING = np.zeros(0)
STILL = np.ones(1)


def network_of(capacitance, links, ambient_links, ambients=1):
    """Network from capacities [J/K], links (i, j, W/K) and ambient links (i, m, W/K).

    ``capacitance``: one for each node, or a full matrix.
    """
    capacitance = np.array(capacitance, float)
    if capacitance.ndim == 1:
        capacitance = np.diag(capacitance)
    nodes = len(capacitance)
    conductance, to_ambient = np.zeros((nodes, nodes)), np.zeros((nodes, ambients))
    for i, j, g in links:
        conductance[[i, j], [i, j]] += g
        conductance[[i, j], [j, i]] -= g
    for i, m, g in ambient_links:
        conductance[i, i] += g
        to_ambient[i, m] += g
    names = tuple(f"n{i}" for i in range(nodes))
    return Network(names, capacitance, conductance, to_ambient, np.eye(nodes))


class Rig:
    """A network that starts at ``start_c``; a heat input on every node."""

    def __init__(self, network, start_c, limits_c=None):
        self.network, self.modes = network, modes_of(network)
        nodes, ambients = network.ambient_w_per_k.shape
        start_c = np.full(nodes, start_c) if np.isscalar(start_c) else np.array(start_c, float)
        limits_c = np.full(nodes, np.nan) if limits_c is None else np.array(limits_c, float)
        self.machine = Machine(NO_EMITTERS, NO_SURFACES, limits_c, nodes, 0.0, False)
        self.state = state_of(self.modes, NO_EMITTERS, start_c)
        self.tally = empty(start_c, 0, nodes, ambients)

    def advance(self, dt_s, heat_w, ambient_c=(0.0,)):
        """Advance under constant heat [W per node] and ambients [degC]; node temperatures."""
        ambient_c, heat_w = np.array(ambient_c, float), np.array(heat_w, float)
        interval = Interval(NOTHING, NOTHING, ambient_c, heat_w, STILL)
        motion.advance(
            self.machine, self.modes, self.state, self.tally, interval, dt_s, np.inf, 1e-4
        )
        return self.node_c

    @property
    def node_c(self):
        """Present temperatures [degC]."""
        return self.state.node_c[BEGIN].copy()


@st.composite
def networks(draw, massless=True):
    """Connected networks of 1 to 6 nodes and 1 or 2 ambients, time constants far apart."""
    nodes, ambients = draw(st.integers(1, 6)), draw(st.integers(1, 2))
    number = st.floats(-1.0, 1.0)
    capacitance = [10.0 ** (3 * draw(number)) for _ in range(nodes)]
    if massless and nodes > 1:
        for i in draw(st.sets(st.integers(1, nodes - 1))):
            capacitance[i] = 0.0
    links = [(i, draw(st.integers(0, i - 1)), 10.0 ** draw(number)) for i in range(1, nodes)]
    links += [
        (i, j, 10.0 ** draw(number))
        for i in range(nodes)
        for j in range(i + 1, nodes)
        if draw(st.booleans())
    ]
    places = st.tuples(st.integers(0, nodes - 1), st.integers(0, ambients - 1))
    ambient_links = [
        (*place, 10.0 ** draw(number)) for place in draw(st.lists(places, min_size=1, max_size=3))
    ]
    return network_of(capacitance, links, ambient_links, ambients)
