"""A user's own policy class: found, filled by unit suffix, and refused in one sentence."""

import sys
import textwrap

import pytest

from derate.control.body import PythonBody
from derate.errors import InputError
from derate.firmware.host import HostBody
from derate.sensing.chain import chains_of
from tests.control.small_lamp import small_lamp

FULL_Q15 = 32768


@pytest.fixture
def module(tmp_path, monkeypatch):
    """A module my_policies in the current folder, forgotten afterwards."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my_policies.py").write_text(
        textwrap.dedent(
            """
            import dataclasses

            @dataclasses.dataclass
            class Cliff:
                at_c: float
                share: float = 0.5
                turns: int = 3

                def begin(self):
                    return 0

                def limit(self, state, reading_c, period_s):
                    return (self.share if reading_c >= self.at_c else 1.0), state + 1

            class Wild(Cliff):
                def limit(self, state, reading_c, period_s):
                    return 1.5, state

            class HotWild(Cliff):
                def limit(self, state, reading_c, period_s):
                    return (1.5 if reading_c > 50 else 1.0), state

            class Fails(Cliff):
                def limit(self, state, reading_c, period_s):
                    return self.nothing, state

            class Odd(Cliff):
                def limit(self, reading_c):
                    return 1.0

            class Asks(Cliff):
                def begin(self, first):
                    return first

            class Leaves(Cliff):
                def limit(self, state, reading_c, period_s):
                    raise SystemExit(0)

            class Chatty(Cliff):
                def limit(self, state, reading_c, period_s):
                    print("limit asked")
                    return 1.0, state

            class Unresolved(Cliff):
                more: "Nowhere" = 0.0

            class Loose(Cliff):
                def __init__(self, *args):
                    pass

            class Lame:
                def begin(self):
                    return 0
            """
        )
    )
    (tmp_path / "broken.py").write_text("1 / 0\n")
    (tmp_path / "wants.py").write_text("import not_there_at_all\n")
    (tmp_path / "leaves.py").write_text("raise SystemExit(0)\n")
    (tmp_path / "two_lines.py").write_text('raise ValueError("one\\ntwo")\n')
    (tmp_path / "talks.py").write_text(
        "import my_policies\nprint('loading')\nclass Cliff(my_policies.Cliff):\n    pass\n"
    )
    yield
    for name in ("my_policies", "broken", "wants", "leaves", "two_lines", "talks"):
        sys.modules.pop(name, None)


def body(kind="my_policies:Cliff", **settings):
    """The body of a lamp with a policy of the user's own."""
    lamp = small_lamp({"kind": kind} | settings, body="python")
    return PythonBody(lamp, chains_of(lamp))


def test_keys_fill_the_fields_by_unit_suffix(module):
    """``at = "60 degC"`` fills ``at_c``; a share may be a number or a percentage; int stays int."""
    own = body(at="60 degC", share="25 %", turns=4)
    code = own.chains[0].ideal_code
    assert own.step([code(59.0)], [FULL_Q15] * 2).limit_q15 == FULL_Q15
    assert own.step([code(61.0)], [FULL_Q15] * 2).limit_q15 == FULL_Q15 // 4


@pytest.mark.parametrize(
    ("kind", "settings", "words"),
    [
        ("nowhere:Cliff", {}, ["policy.kind", "nowhere:Cliff", "beside the lamp file"]),
        ("my_policies:Clif", {}, ["policy.kind", 'nearest is "Cliff"']),
        ("my_policies:Lame", {}, ["policy.kind", "without a method limit"]),
        ("broken:Any", {}, ["policy.kind", "ZeroDivisionError"]),
        ("wants:Any", {}, ["policy.kind", "not_there_at_all"]),
        ("leaves:Any", {}, ["policy.kind", "fails to load (SystemExit: 0)"]),
        ("two_lines:Any", {}, ["policy.kind", "(ValueError: one two)"]),
        ("my_policies:Unresolved", {}, ["policy.kind", "annotations", "'Nowhere'"]),
        ("my_policies:Loose", {}, ["policy.kind", '"*args"', "given by name"]),
        ("my_policies:Cliff", {}, ["policy.at", "found nothing", "a temperature"]),
        ("my_policies:Cliff", {"at": 60}, ["policy.at", "found 60", "a temperature"]),
        ("my_policies:Cliff", {"at": "60 V"}, ["policy.at", '"60 V"', "a temperature"]),
        ("my_policies:Cliff", {"att": "60 degC"}, ["policy.att", 'nearest is "at"']),
        ("my_policies:Cliff", {"at": "60 degC", "share": True}, ["policy.share", "a ratio"]),
        ("my_policies:Cliff", {"at": "60 degC", "turns": 0.5}, ["policy.turns", "type int"]),
    ],
)
def test_mistakes_are_told_in_one_sentence(module, kind, settings, words):
    """The sentence names the key, what was found and what is due."""
    with pytest.raises(InputError) as told:
        body(kind, **settings)
    sentence = str(told.value)
    assert "\n" not in sentence
    for word in words:
        assert word in sentence


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Wild", r"returned .*1\.5.*due a method limit\(self, state, reading_c, period_s\)"),
        ("Fails", r"whose limit fails \(AttributeError: .*due a method limit\("),
        ("Odd", r"whose limit fails \(TypeError: .*due a method limit\("),
        ("Leaves", r"whose limit fails \(SystemExit: 0\)"),
        ("Asks", r"whose begin fails \(TypeError: .*due a method begin\(self\)"),
    ],
)
def test_a_class_that_does_not_work_is_told_before_it_runs(module, name, words):
    """One trial call finds wrong signatures, exceptions and limits outside 0 to 1."""
    with pytest.raises(InputError, match=words) as raised:
        body(f"my_policies:{name}", at="60 degC")
    assert "\n" not in str(raised.value)


def test_what_a_policy_prints_stays_off_standard_output(module, capsys):
    """Standard output is for results: words of the user's code go to standard error."""
    body("talks:Cliff", at="60 degC")
    own = body("my_policies:Chatty", at="60 degC")
    own.step([600], [FULL_Q15] * 2)
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "loading" in captured.err
    assert captured.err.count("limit asked") > 1


def test_a_limit_outside_0_to_1_is_refused_while_it_runs(module):
    """What the class returns is checked at every step, never clipped in silence."""
    wild = body("my_policies:HotWild", at="60 degC")
    with pytest.raises(InputError, match=r"returned .*1\.5.*due a method limit"):
        wild.step([600], [FULL_Q15] * 2)


def test_the_c_body_refuses_a_python_class(module):
    """A policy class has no C: the sentence says which body runs it."""
    lamp = small_lamp({"kind": "my_policies:Cliff", "at": "60 degC"}, body="python")
    with pytest.raises(InputError, match='body = "python"'):
        HostBody(lamp)


def test_the_import_path_is_left_as_it_was(module):
    """Loading a policy leaves no folder behind on the import path."""
    before = list(sys.path)
    body(at="60 degC")
    assert sys.path == before
