"""Whatever a file holds, it loads or earns one sentence."""

import copy
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from derate.errors import InputError
from derate.lamp import Lamp, load, starter_text
from derate.lamp.lamp import validated
from derate.lamp.quantities import Source
from derate.lamp.sentence import MOST_TOLD

RAWS = {
    "starter": tomllib.loads(starter_text()),
    "board": tomllib.loads((Path(__file__).parent / "board_lamp.toml").read_text("utf-8")),
}
WORDS = [
    "A",
    "K/W",
    "degC",
    "%",
    "LSB",
    "bit",
    "lm",
    "s",
    "ohm",
    "1/K",
    "mm",
    "W/m/K",
    "",
    "V**9**9",
    "((",
]

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


PLACES = {name: list(places(raw)) for name, raw in RAWS.items()}
KEYS = sorted({way[-1] for ways in PLACES.values() for way in ways if isinstance(way[-1], str)})


def mutations(name):
    """One or two edits of one of the files."""
    edit = st.tuples(
        st.sampled_from(PLACES[name]),
        st.sampled_from(["delete", "replace", "add"]),
        st.one_of(st.text(max_size=8), st.sampled_from(KEYS)),
        values,
    )
    return st.tuples(st.just(name), st.lists(edit, min_size=1, max_size=2))


def sentences_of(raw):
    """What a file is told, nothing where it gives a lamp; anything else escapes."""
    try:
        validated(Lamp.model_validate, raw, Source(), "mutant.toml")
    except InputError as error:
        return error.sentences
    return ()


def loads_or_tells(raw):
    """Either a lamp, or an InputError of a line a mistake; anything else fails the test."""
    sentences = sentences_of(raw)
    assert len(sentences) <= MOST_TOLD
    for sentence in sentences:
        assert sentence.startswith("mutant.toml: ")
        assert ": found " in sentence or "mutant.toml: found " in sentence
        assert not sentence.endswith("due ")
        assert "something else" not in sentence
        assert len(sentence.splitlines()) == 1


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(RAWS)).flatmap(mutations))
def test_any_small_mutation_loads_or_is_told(mutation):
    """A key deleted, a value replaced or a key added never ends in anything but a sentence."""
    file, edits = mutation
    raw = copy.deepcopy(RAWS[file])
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


@pytest.mark.parametrize("file", RAWS)
@pytest.mark.parametrize("value", [-1, 0, 1e308, "", "0 K", [], {}, "module:Class"], ids=repr)
def test_every_key_bears_every_kind_of_value(value, file):
    """No key of either file breaks down under a value of another kind."""
    for way in PLACES[file]:
        raw = copy.deepcopy(RAWS[file])
        place = raw
        for step in way[:-1]:
            place = place[step]
        place[way[-1]] = value
        loads_or_tells(raw)


@pytest.mark.parametrize("value", [1, "1e-6 m", ["1 m", "2 m"], [["1 mm", "1 mm"]] * 3], ids=repr)
def test_every_key_bears_lengths_and_positions(value):
    """Nor under lengths and positions that fit no board."""
    for way in PLACES["board"]:
        raw = copy.deepcopy(RAWS["board"])
        place = raw
        for step in way[:-1]:
            place = place[step]
        place[way[-1]] = value
        loads_or_tells(raw)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_load_or_are_told(tmp_path_factory, content):
    """A file of arbitrary bytes is refused, each sentence a line."""
    path = tmp_path_factory.mktemp("bytes") / "bytes.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load(path)
    assert all(len(one.splitlines()) == 1 for one in caught.value.sentences)
