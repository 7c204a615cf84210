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
    """The controller of ``controller.body``: C on the host or on a core, or its Python twin.

    Raises SurroundingsError when the C is asked for and no compiler or emulator is found.
    """
    if lamp.controller.body == "python":
        from derate.control.body import PythonBody

        return PythonBody(lamp, chains)
    if lamp.controller.body.startswith(PREFIX):
        from derate.firmware.emulated import EmulatedBody

        return EmulatedBody(lamp, chains, lamp.controller.body.removeprefix(PREFIX))
    from derate.firmware.host import HostBody

    return HostBody(lamp, chains)
