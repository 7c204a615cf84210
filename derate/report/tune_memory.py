"""The file of what a tuning has tried: read at the start, replaced whole after each generation."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from derate.errors import InputError
from derate.report.folder import place
from derate.study.tune_memory import Memory, hash_of

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp
    from derate.lamp.profile import Profile
    from derate.study.tune import Wanted


def remembered(
    lamp: "Lamp", profiles: "Mapping[str, Profile]", wanted: "Wanted", path: Path | None
) -> Memory:
    """The memory of a tuning, kept in the file ``path``; empty where there is no such file yet.

    Raises InputError where it holds something else, or is of another lamp, profile or question.
    """

    def write(plain: dict[str, Any]) -> None:
        if path is not None:
            place(path, (json.dumps(plain) + "\n").encode())

    memory = Memory(hash_of(lamp, profiles, wanted), wanted.budget_s, write)
    if path is not None and path.exists():
        memory.recall(_read(path), str(path))
    elif path is not None and not path.parent.is_dir():
        raise InputError(f"--resume {path}: found no folder {path.parent}, due one that exists")
    return memory


def _read(path: Path) -> object:
    try:
        return json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        found = "something that is no JSON document"
        raise InputError(f"{path}: found {found}, due a file that --resume wrote") from None
