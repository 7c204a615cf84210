"""What stands on the board lies on it: emitters with their pads, sensors, the board's partner."""

import itertools
from typing import TYPE_CHECKING, NamedTuple

from derate.lamp.board import Board
from derate.lamp.channel import Channel
from derate.lamp.outline import SAME_M, Point, distance_m, rectangles_overlap
from derate.lamp.sentence import Key, Noted, demand_known, wrong

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

MOST_PADS = 300
"""Different positions of the emitters of a channel; each becomes a node of its own."""


class _Pad(NamedTuple):
    """Where one emitter stands: its channel, its number in the list ``at``, and its pad."""

    channel: str
    entry: int
    at: Point
    size: Point
    on: str

    @property
    def key(self) -> Key:
        """The key of its position in the file."""
        return ("channels", self.channel, "at", self.entry)


def check_layout(lamp: "Lamp") -> None:
    """Raises the disagreements between the board and what stands on it."""
    board, noted = lamp.board, Noted()
    if board is None:
        _no_positions(lamp)
        return
    with noted.one():
        if board.interface is not None:
            demand_known(board.interface.to, lamp.nodes, "a node", ("board", "interface", "to"))
    for name, channel in lamp.channels.items():
        if channel.at is not None:
            with noted.one():
                _footprint(lamp, name, channel)
            if len(set(channel.at)) > MOST_PADS:
                due = f"at most {MOST_PADS} different positions"
                raise wrong(due, found=f"{len(set(channel.at))}", key=("channels", name, "at"))
    pads = _pads(lamp)
    for pad in pads:
        with noted.one():
            _on_board(board, pad, lamp.emitters[lamp.channels[pad.channel].emitter].footprint_m)
    with noted.one():
        _clear_of_each_other(pads, layered=board.dielectric is not None)
    for name in lamp.sensors:
        with noted.one():
            _sensor_on_board(lamp, board, name)
    noted.demand_none()


def _sensor_on_board(lamp: "Lamp", board: Board, name: str) -> None:
    at = lamp.sensors[name].at
    if not isinstance(at, str) and not board.inside(*at):
        due = "a position on the board, inside its outline and in none of its holes"
        raise wrong(f"{due}; {board.where}", key=("sensors", name, "at"))


def _no_positions(lamp: "Lamp") -> None:
    placed = [("channels", name) for name, part in lamp.channels.items() if part.at is not None]
    placed += [("sensors", name) for name, part in lamp.sensors.items() if type(part.at) is tuple]
    for key in placed:
        raise wrong("no positions, as there is no table [board]", key=(*key, "at"))


def _footprint(lamp: "Lamp", name: str, channel: Channel) -> None:
    footprint_m = lamp.emitters[channel.emitter].footprint_m
    if footprint_m is None:
        due = f'its thermal pad such as ["3.3 mm", "3.3 mm"], as channel "{name}" is on the board'
        raise wrong(due, found="nothing", key=("emitters", channel.emitter, "footprint"))
    if channel.pad_m and any(channel.pad_m[i] < footprint_m[i] - SAME_M for i in (0, 1)):
        x_mm, y_mm = (1e3 * length_m for length_m in footprint_m)
        due = f'at least the footprint of "{channel.emitter}", {x_mm:g} mm by {y_mm:g} mm'
        raise wrong(due, key=("channels", name, "pad"))


def _pads(lamp: "Lamp") -> list[_Pad]:
    """The pads of all channels, those at one and the same position of a channel counted once."""
    return [
        _Pad(name, channel.at.index(at), at, channel.pad_m, channel.pad_on)
        for name, channel in lamp.channels.items()
        if channel.at is not None and channel.pad_m is not None
        for at in dict.fromkeys(channel.at)
    ]


def _on_board(board: Board, pad: _Pad, footprint_m: Point | None) -> None:
    if not board.holds(pad.at, pad.size):
        due = f"a position whose pad lies within the outline of the board; {board.where}"
        raise wrong(due, key=pad.key)
    for hole in board.holes:
        if footprint_m and distance_m(hole.at, pad.at, footprint_m) < hole.diameter_m / 2 - SAME_M:
            raise wrong("a position whose footprint no hole of the board cuts into", key=pad.key)


def _clear_of_each_other(pads: list[_Pad], layered: bool) -> None:
    """Pads may touch, and channels may share a position, where all stand on the dielectric or all
    on the core if the board is ``layered`` of both; else each has its copper for itself."""
    for one, other in itertools.combinations(pads, 2):
        if one.at == other.at and one.on != other.on and layered:
            due = f'a position of its own, or a pad on the {one.on} as "{one.channel}" has there'
            raise wrong(due, key=other.key)
        if one.at != other.at and rectangles_overlap(one.at, one.size, other.at, other.size):
            due = (
                f"a position whose pad does not overlap that of entry {one.entry + 1} of channel"
                f' "{one.channel}"'
            )
            raise wrong(due, key=other.key)
