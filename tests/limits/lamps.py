"""Small lamps to be challenged in a moment; all their numbers are invented."""

from pathlib import Path

from derate.lamp import Lamp, load

LATE = Path(__file__).parent / "late_lamp.toml"
_lamp = load(LATE)


def late_lamp(*, limit_c: float = 100.0, **changes: object) -> Lamp:
    """The lamp of ``late_lamp.toml`` with another limit of its junctions.

    ``changes``: by key path with "__" for the dots, ``controller__latch=True``.
    """
    keys = {key.replace("__", "."): value for key, value in changes.items()}
    return _lamp.with_changes({"channels.spot.junction_limit": limit_c} | keys)
