"""A real board at a serial port: the very commands of the host, whatever happens to the line."""

import threading

import numpy as np
import pytest

from derate.errors import BoardGoneError, InputError, SurroundingsError
from derate.firmware.board import MOST_RESETS, BoardBody
from derate.firmware.frame import start_frame
from derate.firmware.host import HostBody
from tests.control.small_lamp import FOLDBACK, FOLDBACK_WITH_HYSTERESIS, small_lamp
from tests.firmware.board_rig import BoardRig, Harm, board_program

pytest.importorskip("serial")
pytest.importorskip("pty", reason="no pseudo-terminals on this system")
ANSWER_S, PATIENT_S = 0.02, 5.0
"""Waits for an answer: short where some are lost, for a board that is only a process away; and so
long that none which was sent is missed."""
GONE_S, STAYS_S = 0.3, 60.0
"""When a board is given up: soon where it is gone, else never."""
STEPS = 120
SOME = Harm(drop=0.003, double=0.003, corrupt=0.003, delay=0.001)


def lamp_at(port, **controller):
    """A lamp whose controller is a board at that port."""
    settings = {"filter_shift": 3, "max_jump": "30 K"} | controller
    return small_lamp(FOLDBACK_WITH_HYSTERESIS, body=f"serial:{port}@115200", **settings)


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    """The board of that lamp as a program."""
    folder = tmp_path_factory.mktemp("board")
    return board_program(lamp_at("none"), folder)


@pytest.fixture
def rig(program, tmp_path):
    """A board that is plugged in."""
    with BoardRig(program, tmp_path / "port") as rig:
        yield rig


def body_at(rig, answer_s=ANSWER_S, gone_s=STAYS_S):
    """The controller on that board, started."""
    body = BoardBody(lamp_at(rig.port), answer_s=answer_s, gone_s=gone_s)
    body.start()
    return body


def walk(steps=STEPS, seed=1):
    """Codes and requests of a walk that meets faults and jumps."""
    random = np.random.default_rng(seed)
    codes = 1800 + random.integers(-40, 41, (steps, 1)).cumsum(axis=0)
    codes[random.random(codes.shape) < 0.03] = 4095
    return list(zip(codes.tolist(), random.integers(0, 32769, (steps, 2)).tolist(), strict=True))


def host():
    """The same controller on this machine."""
    return HostBody(lamp_at("none"))


def test_a_board_commands_what_the_host_commands(rig):
    """Without faults every command is that of the host, and nothing is told of the line."""
    body, expected = body_at(rig, PATIENT_S), host()
    for codes, requests in walk():
        assert body.step(codes, requests) == expected.step(codes, requests)
    body.close()
    talk = body.talk
    assert (talk.steps, talk.repeats, talk.spoilt_bytes, talk.resets_s) == (STEPS, 0, 0, [])


@pytest.mark.parametrize("seed", [1, 2])
def test_harm_on_the_line_changes_nothing(rig, seed):
    """With bytes lost, doubled, damaged and late commands are the host's, each step is run once."""
    rig.harm = SOME
    body, expected = body_at(rig), host()
    for codes, requests in walk(seed=seed):
        assert body.step(codes, requests) == expected.step(codes, requests)
    rig.harm = Harm()
    body.close()
    assert body.talk.repeats > 0
    assert body.talk.spoilt_bytes > 0
    rig.reset()
    assert rig.did == "d" + STEPS * "s" + "d"


@pytest.mark.parametrize("harm", [Harm(), SOME], ids=["calm", "harm"])
def test_a_reset_is_told_and_begins_afresh(rig, harm):
    """After a reset the controller is the host's just started, and the time is noted."""
    rig.harm = harm
    body, expected = body_at(rig), host()
    for number, (codes, requests) in enumerate(walk(60)):
        if number in (20, 45):
            rig.reset()
            expected.start()
        assert body.step(codes, requests) == expected.step(codes, requests)
    rig.harm = Harm()
    body.close()
    assert body.talk.resets_s == pytest.approx([2.0, 4.5])


@pytest.mark.parametrize("farewell", [True, False])
def test_a_new_run_begins_afresh(rig, farewell):
    """A board that kept its memory starts its controller anew, however the last run ended."""
    for _ in range(2):
        body, expected = body_at(rig), host()
        for codes, requests in walk(20):
            assert body.step(codes, requests) == expected.step(codes, requests)
        if farewell:
            body.close()
        else:
            body._line.close()
    assert body.talk.resets_s == []


def test_a_late_welcome_is_no_reset(rig):
    """The board's second answer to a START that was sent twice changes nothing."""
    body, expected = body_at(rig), host()
    for codes, requests in walk(5):
        body._line.send(start_frame(body._session))
        assert body.step(codes, requests) == expected.step(codes, requests)
    body.close()
    assert body.talk.resets_s == []


def test_a_plug_pulled_and_put_back(rig):
    """The port goes and comes back with the board still powered: nothing is lost."""
    body, expected = body_at(rig), host()
    for number, (codes, requests) in enumerate(walk(30)):
        if number == 10:
            rig.unplug()
            threading.Timer(0.1, rig.plug).start()
        assert body.step(codes, requests) == expected.step(codes, requests)
    body.close()
    assert body.talk.unplugged_s[0] == pytest.approx(1.0)
    assert body.talk.resets_s == []


@pytest.mark.parametrize("how", ["silent", "unplugged"])
def test_a_board_that_is_gone_is_told(rig, how):
    """After a while without an answer there is one sentence that says where and when."""
    body = body_at(rig, gone_s=GONE_S)
    steps = walk(5)
    for codes, requests in steps:
        body.step(codes, requests)
    if how == "silent":
        rig.silent_after = 0
    else:
        rig.unplug()
    with pytest.raises(BoardGoneError, match=r"the board at \S+port .* at 0.5 s of the run"):
        body.step(*steps[0])
    body.close()


def test_a_board_that_resets_all_the_time_is_told(rig, monkeypatch):
    """A board that is reset at every step ends the run and not the program."""
    body = body_at(rig)
    codes, requests = walk(1)[0]
    body.step(codes, requests)
    begin = body._begin
    rig.reset()
    monkeypatch.setattr(body, "_begin", lambda: (begin(), rig.reset()))
    with pytest.raises(BoardGoneError, match=f"was reset {1 + MOST_RESETS} times within one step"):
        body.step(codes, requests)
    body.close()


def test_other_settings_are_refused(rig):
    """A board with the settings of another lamp does not run this one."""
    body = BoardBody(lamp_at(rig.port, cutoff="89 degC"), answer_s=ANSWER_S, gone_s=STAYS_S)
    with pytest.raises(SurroundingsError, match="built with other settings"):
        body.start()
    body.close()


def test_another_shape_is_refused(rig):
    """A board made for another number of sensors is told apart."""
    lamp = small_lamp(FOLDBACK, sensors=2, body=f"serial:{rig.port}@115200")
    body = BoardBody(lamp, answer_s=ANSWER_S, gone_s=STAYS_S)
    with pytest.raises(SurroundingsError, match=r"for 1 sensors and 2 channels, .* has 2 and 2"):
        body.start()
    body.close()


def test_no_port_and_no_board_are_told(rig, tmp_path):
    """A port that is not there, that is in use, or where nobody answers: a sentence each."""
    with pytest.raises(
        SurroundingsError, match=r"nowhere of controller\.body cannot be opened: no such"
    ):
        BoardBody(lamp_at(tmp_path / "nowhere")).start()
    kept = body_at(rig)
    with pytest.raises(SurroundingsError, match="cannot be opened: another program uses it"):
        body_at(rig)
    kept.close()
    rig.silent_after = 0
    body = BoardBody(lamp_at(rig.port), answer_s=ANSWER_S, gone_s=0.1)
    with pytest.raises(SurroundingsError, match=r"gave no answer for 0.1 s: is it programmed"):
        body.start()
    body.close()


def test_real_time_waits_for_each_period(rig):
    """Steps begin a period apart by the clock; one that could not is counted."""
    now, slept = [0.0], []

    def clock():
        now[0] += 1e-6
        return now[0]

    def sleep(seconds):
        slept.append(seconds)
        now[0] += seconds

    lamp = lamp_at(rig.port, pace="real time")
    body = BoardBody(lamp, answer_s=ANSWER_S, gone_s=STAYS_S, sleep=sleep, clock=clock)
    body.start()
    for number, (codes, requests) in enumerate(walk(6)):
        if number == 3:
            now[0] += 0.25
        body.step(codes, requests)
    body.close()
    assert len(slept) == 4
    assert slept == pytest.approx([0.1] * 4, rel=0.01)
    assert body.talk.late == 1


@pytest.mark.parametrize(
    ("body", "pace", "due"),
    [
        ("serial:/dev/ttyUSB0", "stepped", 'or a real board, "serial:PORT@BAUD"'),
        ("serial:@9600", "stepped", 'or a real board, "serial:PORT@BAUD"'),
        ("serial:COM3@fast", "stepped", 'or a real board, "serial:PORT@BAUD"'),
        ("c", "real time", "only a real board has a time of its own"),
    ],
)
def test_mistakes_in_the_file_are_told(body, pace, due):
    """A body that names no port or no rate, and a pace without a board, are told."""
    with pytest.raises(InputError, match=due):
        small_lamp().with_changes({"controller.body": body, "controller.pace": pace})
