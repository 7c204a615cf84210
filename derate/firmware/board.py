"""A lamp's controller on a real board at a serial port: this machine plays the lamp.

A step is sent until its answer comes. The board runs the controller once for each sequence number,
whatever is repeated, so that lost and damaged bytes change nothing but the time it takes. A board
that was reset tells so by its session; its controller then begins afresh, as it would in the lamp.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from derate.control.command import Command
from derate.errors import BoardGoneError, SurroundingsError
from derate.firmware.frame import LARGEST, Answer, Welcome, Window, start_frame, step_frame
from derate.firmware.line import Line, UnpluggedError
from derate.firmware.link_settings import identity_of
from derate.firmware.sources import sources_of
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain, chains_of

ANSWER_S = 0.1
"""How long an answer may take, besides its time on the wire: adapters of USB hold bytes back."""
GONE_S = 5.0
"""A board that says nothing for so long is gone; after a reset a boot loader may take seconds."""
REOPEN_S = 0.1
"""How often a port that has gone is looked for."""
BITS_PER_BYTE = 10
MOST_RESETS = 3
"""So many resets within one step are no accident: the supply breaks down, or a watchdog bites."""
MOST_FAREWELLS = 3
"""How often a board that does not answer is told to go dark at the end."""
LATE = 0.1
"""In real time, a step that begins later than this share of the period counts as late."""

Reply = Welcome | Answer


@dataclass
class Talk:
    """What happened on the line: steps answered, frames sent again, bytes in no whole frame.

    ``resets_s`` and ``unplugged_s``: times on the profile [s]; ``late``: steps begun too late, in
    real time.
    """

    pace: str
    steps: int = 0
    repeats: int = 0
    spoilt_bytes: int = 0
    late: int = 0
    resets_s: list[float] = field(default_factory=list)
    unplugged_s: list[float] = field(default_factory=list)


class BoardBody:
    """The controller on the board of ``controller.body``; ``start`` and ``step`` as in HostBody.

    ``answer_s`` and ``gone_s`` [s]: see ANSWER_S and GONE_S; ``clock``, ``sleep``: as in ``time``.
    Raises InputError when a setting cannot be held by the C, SurroundingsError when there is no
    board or one with another firmware, BoardGoneError when it has gone in the middle of a run.
    """

    def __init__(
        self,
        lamp: Lamp,
        chains: Sequence[Chain] | None = None,
        *,
        answer_s: float = ANSWER_S,
        gone_s: float = GONE_S,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        place = lamp.controller.serial_port
        if place is None:
            raise ValueError(f'due a body "serial:PORT@BAUD", found "{lamp.controller.body}"')
        chains = chains_of(lamp) if chains is None else chains
        sources_of(lamp, chains)  # refuses what no board could have been built from
        self._shape = identity_of(lamp, chains), len(lamp.sensors), len(lamp.channels)
        self._gone_s, self._clock, self._sleep = gone_s, clock, sleep
        on_wire = 2 * len(step_frame(0, 0, [0] * self._shape[1], [0] * 2 * self._shape[2]))
        self._answer_s = answer_s + on_wire * BITS_PER_BYTE / place.baud
        self._line = Line(place, answer_s)
        self._timing = lamp.timing
        self._due_s: float | None = None
        self._session = self._sequence = 0
        self._window = Window(self._shape[2])
        self.talk = Talk(lamp.controller.pace)

    def start(self) -> None:
        """Open the port and begin as after a reset."""
        self._line.open()
        self._window, self.talk = Window(self._shape[2]), Talk(self.talk.pace)
        self._due_s, self._session = None, 0
        self._begin()

    def step(self, codes: Sequence[int], requests_q15: Sequence[int]) -> Command:
        """One control period: codes (one a sensor) and requests (Q15, one a channel) to duties."""
        self._wait()
        for _ in range(1 + MOST_RESETS):
            self._sequence = (self._sequence + 1) & LARGEST
            frame = step_frame(self._session, self._sequence, codes, requests_q15)
            reply = self._exchange(frame, self._concerns_step)
            if isinstance(reply, Answer):
                self.talk.steps += 1
                return Command(reply.duties_q15, reply.limit_q15, reply.status)
            self.talk.resets_s.append(self._at_s())
            self._begin()
        raise self._gone(f"was reset {1 + MOST_RESETS} times within one step")

    def close(self) -> None:
        """Leave the board with all duties 0, as a new session has, and close the port."""
        session = self._next_session(self._session)
        try:
            for _ in range(MOST_FAREWELLS if self._session else 0):
                self._line.send(start_frame(session))
                if self._reply(lambda reply: reply.session == session) is not None:
                    break
        except UnpluggedError:
            pass
        self._session = 0
        self._line.close()

    def _begin(self) -> None:
        """A new session with the board, if it is the right one."""
        found = self._exchange(start_frame(0), lambda reply: isinstance(reply, Welcome))
        assert isinstance(found, Welcome)
        self._demand_right(found)
        self._session = self._next_session(max(found.session, self._session))
        self._sequence = 0
        self._exchange(
            start_frame(self._session),
            lambda reply: isinstance(reply, Welcome) and reply.session == self._session,
        )

    @staticmethod
    def _next_session(session: int) -> int:
        return session % LARGEST + 1

    def _concerns_step(self, reply: Reply) -> bool:
        """Whether a reply is the step's answer, or tells that the board knows nothing of it."""
        if isinstance(reply, Answer):
            return (reply.session, reply.sequence) == (self._session, self._sequence)
        return reply.session != self._session

    def _exchange(self, frame: bytes, accepted: Callable[[Reply], bool]) -> Reply:
        """Send a frame until a reply to it comes; raises BoardGoneError when none does."""
        give_up_s = self._clock() + self._gone_s
        while True:
            try:
                self._line.send(frame)
                reply = self._reply(accepted)
            except UnpluggedError:
                self.talk.unplugged_s.append(self._at_s())
                self._reopen(give_up_s)
                reply = None
            if reply is not None:
                return reply
            if self._clock() >= give_up_s:
                raise self._gone(f"gave no answer for {self._gone_s:g} s")
            self.talk.repeats += 1

    def _reply(self, accepted: Callable[[Reply], bool]) -> Reply | None:
        """The reply that is waited for; None when it does not come in time."""
        until_s, window = self._clock() + self._answer_s, self._window
        while self._clock() < until_s:
            replies = list(window.feed(self._line.receive()))
            self.talk.spoilt_bytes = max(0, window.received - window.framed)
            for reply in replies:
                if accepted(reply):
                    return reply
        return None

    def _reopen(self, give_up_s: float) -> None:
        """Wait until a port that has gone is there again."""
        while True:
            try:
                self._line.open()
                return
            except SurroundingsError as error:
                if self._clock() >= give_up_s:
                    raise self._gone(f"is unplugged ({error})") from None
            self._sleep(REOPEN_S)

    def _wait(self) -> None:
        """In real time, until the next control period begins."""
        if self.talk.pace != "real time":
            return
        period_s, now_s = self._timing.control_period_s, self._clock()
        due_s = now_s if self._due_s is None else self._due_s + period_s
        if now_s < due_s:
            self._sleep(due_s - now_s)
        elif now_s > due_s + LATE * period_s:
            self.talk.late += 1
            due_s = now_s
        self._due_s = due_s

    def _at_s(self) -> float:
        """The time on the profile [s] of the step that is being done."""
        return self._timing.control_phase_s + self.talk.steps * self._timing.control_period_s

    def _demand_right(self, found: Welcome) -> None:
        """Raises SurroundingsError unless the board was built with this lamp's settings."""
        identity, sensors, channels = self._shape
        place = self._line.place.port
        if (found.sensors, found.channels) != (sensors, channels):
            raise SurroundingsError(
                f"the board at {place} was built for {found.sensors} sensors and {found.channels}"
                f" channels, and the lamp has {sensors} and {channels}"
            )
        if found.identity != identity:
            raise SurroundingsError(
                f"the board at {place} was built with other settings (identity"
                f" {found.identity:08X}, due {identity:08X}): export them anew and program it"
            )

    def _gone(self, what: str) -> SurroundingsError:
        """The error about a board that is not there, or no more."""
        port, baud = self._line.place
        if self.talk.steps:
            return BoardGoneError(f"the board at {port} {what}, at {self._at_s():.4g} s of the run")
        heard = self._window.received
        came = f"; {heard} bytes came and no frame among them" if heard else ""
        return SurroundingsError(
            f"the board at {port} {what}{came}: is it programmed with link.c, and for {baud} baud?"
        )
