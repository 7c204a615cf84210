"""A board without a board: the real C as a process behind a pseudo-terminal that can do harm."""

import os
import random
import select
import subprocess
import threading
import time
import tty
from dataclasses import dataclass
from pathlib import Path

from derate.firmware.build import find_compiler, reference_folder, run_compiler
from derate.firmware.link_settings import FILE_NAME, link_header
from derate.firmware.sources import sources_of
from derate.sensing.chain import chains_of

MAIN = Path(__file__).parent / "board_main.c"
CHUNK = 4096
LOOK_S = 0.02
"""How often the relay looks whether it shall end."""


def board_program(lamp, folder: Path) -> Path:
    """The controller of a lamp with the board's end of the line, compiled for this machine."""
    chains = chains_of(lamp)
    sources = sources_of(lamp, chains)
    for name, text in (sources.headers | {FILE_NAME: link_header(lamp, chains)}).items():
        (folder / name).write_text(text)
    places = [f"-I{folder}", f"-I{reference_folder()}"]
    files = [str(MAIN), str(reference_folder() / "link.c"), *map(str, sources.files)]
    program = folder / "board"
    run_compiler(find_compiler(), ["-O1", *places, *files, "-o", str(program)])
    return program


@dataclass
class Harm:
    """What happens to a byte on its way, each with this probability."""

    drop: float = 0.0
    double: float = 0.0
    corrupt: float = 0.0
    delay: float = 0.0
    delay_s: float = 0.02

    def done_to(self, data: bytes, chance: random.Random) -> bytes:
        """The bytes as they arrive; delays happen here."""
        arrived = bytearray()
        for byte in data:
            if chance.random() < self.delay:
                time.sleep(self.delay_s)
            if chance.random() < self.corrupt:
                byte ^= chance.randrange(1, 256)
            if chance.random() >= self.drop:
                arrived += bytes([byte] * (1 + (chance.random() < self.double)))
        return bytes(arrived)


class BoardRig:
    """A board process, its port at ``port``, and a relay between that harms what goes either way.

    ``silent_after``: so many bytes still reach the board, None for all; ``did``: what the board
    did before its last reset, "s" a step and "d" going dark.
    """

    def __init__(self, program: Path, port: Path, harm: Harm | None = None, seed: int = 1) -> None:
        self.program, self.port, self.harm = program, port, harm or Harm()
        self.chance = random.Random(seed)
        self.silent_after: int | None = None
        self.sent = 0
        self.did = ""
        self._ends: tuple[int, int] | None = None
        self._board: subprocess.Popen | None = None
        self._over = threading.Event()
        self._lock = threading.Lock()

    def __enter__(self) -> "BoardRig":
        self.reset()
        self.plug()
        self._relay = threading.Thread(target=self._carry)
        self._relay.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._relay.join()
        self.unplug()
        self._end_board()

    def reset(self) -> None:
        """The board as after its reset."""
        with self._lock:
            self._end_board()
            self._board = subprocess.Popen(
                [str(self.program)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                bufsize=0,
            )

    def plug(self) -> None:
        """The port is there, perhaps with another number, as names of ports go."""
        with self._lock:
            host, board = os.openpty()
            tty.setraw(host)
            tty.setraw(board)
            self.port.unlink(missing_ok=True)
            self.port.symlink_to(os.ttyname(board))
            self._ends = host, board

    def unplug(self) -> None:
        """The port is gone."""
        with self._lock:
            self.port.unlink(missing_ok=True)
            for end in self._ends or ():
                os.close(end)
            self._ends = None

    def _end_board(self) -> None:
        if self._board is not None:
            self._board.stdin.close()
            self.did += self._board.stderr.read().decode()
            self._board.wait()
            self._board.stdout.close()
            self._board.stderr.close()

    def _carry(self) -> None:
        while not self._over.is_set():
            with self._lock:
                self._carry_once()

    def _carry_once(self) -> None:
        if self._ends is None:
            time.sleep(LOOK_S)
            return
        host, board = self._ends[0], self._board.stdout.fileno()
        ready, _, _ = select.select([host, board], [], [], LOOK_S)
        if host in ready:
            data = self.harm.done_to(os.read(host, CHUNK), self.chance)
            if self.silent_after is not None:
                data = data[: max(0, self.silent_after - self.sent)]
            self.sent += len(data)
            self._board.stdin.write(data)
        if board in ready:
            os.write(host, self.harm.done_to(os.read(board, CHUNK), self.chance))
