"""Which controller body a lamp asks for."""

from derate.lamp.lamp import Lamp
from derate.loop.timeline import Body
from derate.sensing.chain import Chain


def body_for(lamp: Lamp, chains: tuple[Chain, ...]) -> Body:
    """The controller of ``controller.body``: the reference C on the host, or its Python twin.

    Raises SurroundingsError when the C is asked for and no compiler is found.
    """
    if lamp.controller.body == "python":
        from derate.control.body import PythonBody

        return PythonBody(lamp, chains)
    from derate.firmware.host import HostBody

    return HostBody(lamp, chains)
