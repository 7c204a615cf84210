"""Controller bodies: what they are asked to do, and which one a lamp asks for."""

from collections.abc import Sequence
from typing import Protocol

from derate.control.command import Command
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain

PREFIX = "emulated:"
"""What a body on an emulated core begins with in a lamp file, "emulated:thumb"."""


class Body(Protocol):
    """A controller: ADC codes and requests in, duties and a status out, once a control period."""

    def start(self) -> None:
        """Begin as after a reset."""

    def step(self, codes: Sequence[int], requests_q15: Sequence[int]) -> Command:
        """One control period; requests and duties are Q15, 32768 = 1."""


def body_for(lamp: Lamp, chains: tuple[Chain, ...]) -> Body:
    """The controller of ``controller.body``: C on the host, a core or a board, or its Python twin.

    Raises SurroundingsError when the C is asked for and no compiler, emulator or board is found.
    """
    if lamp.controller.body == "python":
        from derate.control.body import PythonBody

        return PythonBody(lamp, chains)
    if lamp.controller.body.startswith(PREFIX):
        from derate.firmware.emulated import EmulatedBody

        return EmulatedBody(lamp, chains, lamp.controller.body.removeprefix(PREFIX))
    if lamp.controller.serial_port is not None:
        from derate.firmware.board import BoardBody

        return BoardBody(lamp, chains)
    from derate.firmware.host import HostBody

    return HostBody(lamp, chains)


def simulated(lamp: Lamp) -> Lamp:
    """The lamp itself, or with the C on this machine if its controller runs on a real board."""
    if lamp.controller.serial_port is None:
        return lamp
    return lamp.with_changes({"controller.body": "c", "controller.pace": "stepped"})
