"""Small lamps drawn at random for their bounds, histories to try them with, and what is left."""

from typing import NamedTuple

import numpy as np
from hypothesis import strategies as st

from derate.lamp import Lamp
from derate.lamp.profile import Profile
from derate.limits.history import History, Piece, profile_from, profile_keys
from derate.limits.worst.law import law_of
from derate.limits.worst.plan import history_of
from derate.limits.worst.span import Span, span_of
from derate.limits.worst.study import JUNCTION, PlaceBound, made_ready, places_of
from derate.loop.batch import Batch
from derate.loop.ready import Specimen
from tests.loop.lamps import any_lamp

MOST_TICKS = 1500
"""Control periods of a history, at most."""
_policy = st.sampled_from([
    {"kind": "none"},
    {"kind": "foldback", "start": 40.0, "end": 60.0, "floor": 0.1, "hysteresis": 1.0},
    {"kind": "foldback", "start": 40.0, "end": 52.0},
    {"kind": "foldback", "start": 45.0, "end": 75.0, "floor": 0.3},
    {"kind": "steps", "hysteresis": 2.0, "levels": [{"at": 45.0, "limit": 0.5}]},
    {"kind": "steps", "levels": [{"at": 40.0, "limit": 0.7}, {"at": 50.0, "limit": 0.2}]},
    {"kind": "pi", "setpoint": 50.0, "gain": 0.05, "integral": 0.002},
])  # fmt: skip
_share = st.sampled_from([0.0, 0.3, 1.0, 1.0])


@st.composite
def bounded_lamp(draw):
    """A lamp file drawn at random, of one to four nodes and one or two channels."""
    raw = draw(any_lamp().filter(lambda one: len(one["channels"]) < 3))
    raw["controller"] |= {
        "body": "c",
        "policy": draw(_policy),
        "cutoff": draw(st.sampled_from([62.0, 80.0, 100.0])),
        "attack": draw(st.sampled_from([0.05, 0.5, 5.0])),
    }
    for node in raw["nodes"].values():
        node["capacitance"] = min(node["capacitance"], 3.0)  # quick to bound
    raw["timing"]["control_period"] = draw(st.sampled_from([0.5, 1.0]))
    if draw(st.booleans()):
        raw["sensors"]["ntc"]["adc"]["bits"] = 12
        raw["sensors"]["ntc"]["tolerance"] = {"r25": 0.03, "b_value": 0.01, "resistor": 0.01}
    cold_c, hot_c = draw(st.sampled_from([(25.0, 25.0), (-10.0, 40.0), (20.0, 35.0)]))
    still, windy = draw(st.sampled_from([(1.0, 1.0), (0.1, 1.0), (0.5, 4.0)]))
    on = dict.fromkeys(raw["channels"], 1.0)
    raw["profiles"] = {
        "cold": {"duration": 20.0, "ambient": cold_c, "airflow": still, "request": on},
        "hot": {"duration": 20.0, "ambient": hot_c, "airflow": windy, "request": on},
    }
    return raw


@st.composite
def any_history(draw, channels: int, span: Span, slowest_s: float, period_s: float):
    """Pieces of some length each in the air of a span; bursts among them."""

    def whole_s(share: float) -> float:
        most_s = 0.25 * MOST_TICKS * period_s
        return max(1, round(min(share * slowest_s, most_s) / period_s)) * period_s

    lengths = st.sampled_from([0.002, 0.02, 0.1, 0.5, 3.0]).map(whole_s)
    requests = st.tuples(*[_share] * channels)
    pieces = st.builds(Piece, lengths, requests, st.sampled_from(span.airflow))
    found = draw(st.lists(pieces, min_size=1, max_size=7))
    full, dark = (1.0,) * channels, (0.0,) * channels
    if draw(st.booleans()):
        pause_s = draw(lengths)
        found += [Piece(whole_s(3.0), full, span.airflow[0]), Piece(pause_s, dark, span.airflow[1])]
        found += [Piece(whole_s(0.5), full, span.airflow[0])]
    return History(tuple(found)).joined()


class Left(NamedTuple):
    """Bound less what a simulation reached [K], and at which place."""

    left_k: float
    place: str


class Bounded:
    """A lamp with the bounds of its limited places, ready to be tried."""

    def __init__(self, lamp: Lamp, span: Span | None = None) -> None:
        self.lamp = lamp
        self.span = span_of(lamp) if span is None else span
        self.watched = made_ready(lamp, lamp, self.span, law_of(lamp))
        self.linear = self.watched.linear
        self.places: list[PlaceBound] = places_of(self.watched)
        self._batch: Batch | None = None

    @property
    def channels(self) -> int:
        """How many channels it has."""
        return len(self.lamp.channels)

    def full(self) -> Profile:
        """Full light in the hottest, stillest air until the lamp is as warm as it gets."""
        full = (1.0,) * self.channels
        history = History(
            (Piece(round(4.0 * self.linear.slowest_s, 3), full, self.span.airflow[0]),)
        )
        return self.profile(history, self.span.ambient_c[1])

    def plans(self) -> list[Profile]:
        """What the bounds fear themselves."""
        return [history_of(self.lamp, one.bound, self.linear) for one in self.places]

    def peaks_c(self, profile: Profile, units: list[Specimen] | None = None) -> np.ndarray:
        """The highest temperature of every node in a profile, of any unit [degC]."""
        if self._batch is None:
            self._batch = Batch(self.lamp, profile, threads=1)
        return (
            self._batch.through(profile).run(units or [Specimen(0, self.lamp)]).peak_c.max(axis=0)
        )

    def least(self, profile: Profile, units: list[Specimen] | None = None) -> Left:
        """The least that is left of any bound in a profile, in its own ambient."""
        peaks_c = self.peaks_c(profile, units)
        found = [
            Left(place.bound_c - float(peaks_c[self._nodes(place)].max()), place.name)
            for place in self.places
        ]
        sensed_k = self.watched.hottest_c - peaks_c[self.linear.sensors]
        return min(*found, Left(float(sensed_k.min()), "sensor"))

    def left_k(self, profile: Profile, name: str) -> float:
        """What is left of one place's bound in a profile [K]."""
        (place,) = [one for one in self.places if one.name == name]
        return place.bound_c - float(self.peaks_c(profile)[self._nodes(place)].max())

    def _nodes(self, place: PlaceBound) -> np.ndarray:
        """A place's own nodes: a channel's junctions, or the one that its bound is of."""
        if place.name.startswith(JUNCTION):
            return self.linear.junctions[place.name.removeprefix(JUNCTION)]
        return np.array([place.bound.node])

    def profile(self, history: History, ambient_c: float) -> Profile:
        """A history in an ambient."""
        ambients_c = dict.fromkeys(self.lamp.ambients, ambient_c)
        return profile_from(profile_keys(history, self.lamp, ambients_c))
