"""Whatever a file holds, it loads or earns one sentence."""

import copy
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.lamp import Lamp, load, starter_text
from derate.lamp.lamp import validated
from derate.lamp.quantities import Source

RAW = tomllib.loads(starter_text())
WORDS = ["A", "K/W", "degC", "%", "LSB", "bit", "lm", "s", "ohm", "1/K", "", "V**9**9", "(("]

quantities = st.builds(
    lambda number, unit: f"{number} {unit}",
    st.one_of(st.floats(), st.integers()),
    st.one_of(st.sampled_from(WORDS), st.text(max_size=6)),
)
scalars = st.one_of(
    st.text(max_size=12),
    quantities,
    st.integers(),
    st.just(10**400),
    st.floats(),
    st.booleans(),
    st.dates(),
)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(
            st.one_of(st.text(max_size=6), st.sampled_from(["at", "value", "kind", "every"])),
            inner,
            max_size=3,
        ),
    ),
    max_leaves=8,
)


def places(raw, way=()):
    """Every key path in a parsed file."""
    entries = raw.items() if isinstance(raw, dict) else enumerate(raw)
    for key, value in entries:
        yield (*way, key)
        if isinstance(value, dict | list):
            yield from places(value, (*way, key))


PLACES = list(places(RAW))


def loads_or_tells(raw):
    """Either a lamp, or an InputError of one line; anything else escapes and fails the test."""
    try:
        validated(Lamp.model_validate, raw, Source(), "mutant.toml")
    except InputError as error:
        sentence = str(error)
        assert sentence.startswith("mutant.toml: ")
        assert ": found " in sentence or "mutant.toml: found " in sentence
        assert not sentence.endswith("due ")
        assert "something else" not in sentence
        assert len(sentence.splitlines()) == 1


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.tuples(
            st.sampled_from(PLACES),
            st.sampled_from(["delete", "replace", "add"]),
            st.text(max_size=8),
            values,
        ),
        min_size=1,
        max_size=2,
    )
)
def test_any_small_mutation_loads_or_is_told(edits):
    """A key deleted, a value replaced or a key added never ends in anything but a sentence."""
    raw = copy.deepcopy(RAW)
    for way, act, name, value in edits:
        place = raw
        try:
            for step in way[:-1]:
                place = place[step]
            if act == "delete":
                del place[way[-1]]
            elif act == "replace":
                place[way[-1]] = value
            elif isinstance(place, dict):
                place[name] = value
        except (KeyError, IndexError, TypeError):
            continue  # an earlier edit took this place away
    loads_or_tells(raw)


@pytest.mark.parametrize("value", [-1, 0, 1e308, "", "0 K", [], {}, "module:Class"], ids=repr)
def test_every_key_bears_every_kind_of_value(value):
    """No key of the starter file breaks down under a value of another kind."""
    for way in PLACES:
        raw = copy.deepcopy(RAW)
        place = raw
        for step in way[:-1]:
            place = place[step]
        place[way[-1]] = value
        loads_or_tells(raw)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_load_or_are_told(tmp_path_factory, content):
    """A file of arbitrary bytes is refused in one sentence."""
    path = tmp_path_factory.mktemp("bytes") / "bytes.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load(path)
    assert len(str(caught.value).splitlines()) == 1
