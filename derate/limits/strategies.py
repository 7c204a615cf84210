"""What a lamp may live through, as hypothesis draws it: for searches and for tests of one's own.

All of them shrink towards what a person would try first: few pieces, full light, the hottest
ambient, the least air, the nominal unit, no fault.
"""

from collections.abc import Sequence

from hypothesis import reject
from hypothesis import strategies as st

from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.limits.feared import faults_of
from derate.limits.history import FULL, OFF, Fault, History, Piece, profile_from, profile_keys
from derate.limits.space import Space, space_of
from derate.loop.units import draw as drawn_parts
from derate.loop.units import unit_lamp
from derate.sensing.chain import chains_of

MOST_PIECES = 6
GRADES = 24
"""Lengths of pieces, on a logarithmic scale from a control period to the longest history."""
LEVELS = (FULL, OFF, 0.5, 0.3, 0.8, 0.1)
SHARES = 8
"""Ambients drawn lie on so many equal steps from the hottest to the coldest."""
MOST_UNITS = 2**31
SENSOR_FAULTS = ("sensor open", "sensor short", "sensor stuck")
RESISTORS = ("2.2 kohm", "3.3 kohm", "4.7 kohm", "6.8 kohm", "10 kohm", "22 kohm")


@st.composite
def histories(draw: st.DrawFn, space: Space, most_pieces: int = MOST_PIECES) -> History:
    """Histories of a space, at most as long as its longest."""
    ratio = space.duration_s / space.period_s
    piece = st.builds(
        lambda grade, requests, airflow: Piece(
            space.whole(space.period_s * ratio ** (1.0 - grade / GRADES)), requests, airflow
        ),
        st.integers(0, GRADES),
        st.tuples(*[st.sampled_from(LEVELS)] * space.channels),
        st.sampled_from(sorted(set(space.airflow))),
    )
    pieces = draw(st.lists(piece, min_size=1, max_size=most_pieces))
    befalling = draw(st.none() | _faults(space)) if space.faults else None
    found = History(tuple(pieces), (befalling,) if befalling else ())
    return found.until(space.duration_s).joined()


def _faults(space: Space) -> st.SearchStrategy[Fault]:
    def at(fault: Fault, begin: int, lasts: int | None) -> Fault:
        at_s = space.whole(begin / SHARES * space.duration_s) if begin else 0.0
        until_s = None if lasts is None else at_s + space.whole(lasts / 40 * space.duration_s)
        return Fault(fault.kind, fault.subject, at_s, until_s, fault.factor)

    kinds = list(faults_of(space, 0.0, None))
    return st.builds(
        at, st.sampled_from(kinds), st.integers(0, SHARES - 1), st.none() | st.integers(1, 10)
    )


@st.composite
def ambients(draw: st.DrawFn, lamp: Lamp, within: Space | None = None) -> dict[str, float]:
    """The temperature [degC] of each ambient, within what the profiles of the lamp span."""
    space = within or space_of(lamp)
    colder_k = draw(st.integers(0, SHARES)) / SHARES * space.span_k
    return {name: hottest_c - colder_k for name, hottest_c in space.hottest_c.items()}


@st.composite
def profiles(
    draw: st.DrawFn, lamp: Lamp, *, faults: Sequence[str] = (), within: Space | None = None
) -> Profile:
    """Mission profiles: request histories in the ambients and the air that the lamp's file spans.

    ``faults``: kinds of events that may befall it, such as "sensor open"; ``within``: another span,
    from ``space_of``.
    """
    space = within or space_of(lamp, faults=tuple(faults))
    history = draw(histories(space))
    ambient_c = draw(ambients(lamp, space))
    return profile_from(profile_keys(history, lamp, ambient_c))


@st.composite
def events(draw: st.DrawFn, lamp: Lamp, kinds: Sequence[str] = SENSOR_FAULTS) -> Fault:
    """Single faults of these kinds; ``.keys()`` is the event as a profile file has it."""
    return draw(_faults(space_of(lamp, faults=tuple(kinds))))


@st.composite
def units(draw: st.DrawFn, lamp: Lamp, seed: int = 0) -> Lamp:
    """The nominal lamp, or units drawn within its tolerances."""
    number = draw(st.none() | st.integers(0, MOST_UNITS - 1))
    if number is None:
        return lamp
    return unit_lamp(lamp, drawn_parts(lamp, [number], seed), number)


@st.composite
def chains(draw: st.DrawFn, lamp: Lamp) -> Lamp:
    """The lamp with other sensing chains: resistor, arrangement and bits of every sensor.

    Those that cannot tell a broken thermistor from a cold one are left out.
    """
    changes: dict[str, object] = {}
    for name in lamp.sensors:
        bits, resistor = draw(st.sampled_from((12, 10))), draw(st.sampled_from(RESISTORS))
        arrangement = draw(st.sampled_from(("pull-up", "pull-down")))
        changes |= {f"sensors.{name}.adc.bits": bits, f"sensors.{name}.divider.resistor": resistor}
        changes[f"sensors.{name}.divider.arrangement"] = arrangement
    found = lamp.with_changes(changes)
    try:
        chains_of(found)
    except InputError:
        reject()
    return found
