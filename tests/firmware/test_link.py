"""The board's end of the serial line in C: what it answers to any frames in any order."""

import ctypes
import shutil
import subprocess

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from derate.control.command import Command
from derate.firmware.build import build_library, reference_folder
from derate.firmware.frame import Answer, Welcome, Window, check_of, start_frame, step_frame
from derate.firmware.host import HostBody
from derate.firmware.link_settings import FILE_NAME, identity_of, link_header
from derate.firmware.sources import sources_of
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, small_lamp
from tests.firmware.test_build import PACKAGED, SMALL_CORE, SMALL_INT, STRICT

LAMP = small_lamp(FOLDBACK, filter_shift=2)
CHAINS = chains_of(LAMP)
LINK = reference_folder() / "link.c"
DARK = Command((0, 0), 0, 0)
SEND = ctypes.CFUNCTYPE(None, ctypes.c_uint8)
BYTES = 512
"""More than the line and the controller need of memory."""

PIECES = st.lists(
    st.one_of(
        st.tuples(st.just("start"), st.integers(0, 3)),
        st.tuples(st.just("step"), st.integers(0, 3), st.integers(-1, 2), st.integers(900, 2500)),
        st.tuples(st.just("step"), st.just(1), st.integers(0, 1), st.integers(900, 2500)),
        st.tuples(st.just("noise"), st.binary(max_size=20)),
    ),
    max_size=30,
)


@pytest.fixture(scope="module")
def library():
    """The board's end and the controller, as a library of this machine."""
    sources = sources_of(LAMP, CHAINS)
    headers = sources.headers | {FILE_NAME: link_header(LAMP, CHAINS)}
    return ctypes.CDLL(str(build_library([LINK, *sources.files], headers)))


class CBoard:
    """The C, given bytes in this process."""

    def __init__(self, library):
        self.line, self.memory = (ctypes.create_string_buffer(BYTES) for _ in range(2))
        self.sent = bytearray()
        self.send = SEND(self.sent.append)
        self.byte = library.link_byte
        self.byte.restype = ctypes.c_uint8
        library.link_start(self.line, self.memory, self.send)

    def receive(self, data):
        """The frames that are answered, and how often duties were new."""
        fresh = sum(self.byte(self.line, byte) for byte in data)
        found = list(Window(2).feed(bytes(self.sent)))
        self.sent.clear()
        return found, fresh


class Described:
    """What link.h says a board does, around the controller of this machine."""

    def __init__(self):
        self.host = HostBody(LAMP, CHAINS)
        self.session = self.sequence = 0
        self.last = DARK

    def welcome(self):
        """What the board is."""
        return Welcome(self.session, self.sequence, identity_of(LAMP, CHAINS), 1, 2)

    def start(self, session):
        """The reply to START, and whether duties are new."""
        fresh = session not in (0, self.session)
        if fresh:
            self.host.start()
            self.session, self.sequence, self.last = session, 0, DARK
        return self.welcome(), fresh

    def step(self, session, ahead, codes, requests):
        """The reply to STEP, and whether duties are new."""
        if session == 0 or session != self.session or ahead not in (0, 1):
            return self.welcome(), False
        if ahead:
            self.last = self.host.step(codes, requests)
            self.sequence += 1
        duties_q15, limit_q15, status = self.last
        return Answer(session, self.sequence, limit_q15, status, duties_q15), bool(ahead)


@settings(max_examples=60, deadline=None)
@given(PIECES)
@example([("start", 1), ("step", 1, 1, 1800), ("start", 2), ("step", 2, 0, 1800)])
def test_the_board_does_what_is_described(library, pieces):
    """Any frames in any order, with noise between: every reply is the one that link.h describes."""
    board, described = CBoard(library), Described()
    for kind, *said in pieces:
        if kind == "noise":
            assert board.receive(said[0]) == ([], 0)
            continue
        if kind == "start":
            data, expected = start_frame(*said), described.start(*said)
        else:
            session, ahead, code = said
            sequence = (described.sequence + ahead) % 65536
            data = step_frame(session, sequence, [code], [32768, 20000])
            expected = described.step(session, ahead, [code], [32768, 20000])
        assert board.receive(data) == ([expected[0]], expected[1])


def test_half_a_right_frame_is_none(library):
    """Neither a kind without its complement under a right CRC nor a damaged frame is answered."""
    damaged = bytearray(start_frame(1))
    damaged[3] ^= 4
    assert CBoard(library).receive(bytes(damaged)) == ([], 0)
    frame = start_frame(1)[:-2]
    frame = frame[:1] + bytes([frame[1] ^ 1]) + frame[2:]
    assert CBoard(library).receive(frame + check_of(frame).to_bytes(2, "big")) == ([], 0)


def test_the_sequence_goes_round(library):
    """After 65535 steps comes sequence 0, and the controller runs on."""
    board = CBoard(library)
    board.receive(start_frame(1))
    for number in range(1, 65538):
        for byte in step_frame(1, number % 65536, [1800], [9, 9]):
            fresh = board.byte(board.line, byte)
        assert fresh == 1
    assert board.sent


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
def test_gcc_has_nothing_to_say_of_it(tmp_path):
    """No warning at any level of optimisation, and no library function is called."""
    (tmp_path / FILE_NAME).write_text(link_header(LAMP, CHAINS))
    for level in ("-O0", "-O2", "-Os"):
        output = tmp_path / f"link{level}.o"
        compiled(["gcc", "-ffreestanding", "-Wcast-qual", "-Wvla", level], tmp_path, output)
        listed = subprocess.run(["nm", "-u", str(output)], check=True, capture_output=True)
        assert listed.stdout.split()[1::2] == [b"controller_start", b"controller_step"]


@pytest.mark.parametrize("target", [SMALL_INT, SMALL_CORE], ids=["16-bit int", "32-bit core"])
def test_small_targets_have_nothing_to_say_of_it(target, tmp_path):
    """No warning where int has 16 bits, nor for a small 32-bit core."""
    pytest.importorskip("ziglang")
    (tmp_path / FILE_NAME).write_text(link_header(LAMP, CHAINS))
    compiled([*PACKAGED, *target, "-ffreestanding"], tmp_path, tmp_path / "link.o")


def compiled(command, folder, output):
    """Compile link.c, warnings being errors."""
    places = [f"-I{folder}", f"-I{reference_folder()}"]
    words = [*command, *STRICT, *places, str(LINK), "-o", str(output)]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
