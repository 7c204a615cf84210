"""What a lamp's controller is compiled from: the reference or the user's own C, and settings."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from derate.errors import InputError
from derate.firmware.build import controller_sources
from derate.firmware.header import FILE_NAME, POLICY_SOURCES, settings_code, settings_header
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain


@dataclass(frozen=True)
class Sources:
    """C files and generated headers (file name to text).

    ``key_text``: what of the headers a compiler looks at. ``own``: the files are the user's.
    """

    files: tuple[Path, ...]
    headers: dict[str, str]
    key_text: str
    own: bool


def sources_of(lamp: Lamp, chains: Sequence[Chain]) -> Sources:
    """The sources of a lamp's controller.

    Raises InputError where a setting cannot be held by the C or a file of the user's is missing.
    """
    code = settings_code(lamp, chains)
    headers = {FILE_NAME: settings_header(lamp, chains)}
    own = lamp.controller.c
    if own:
        return Sources(own_files(lamp), headers, code, True)
    files = controller_sources(POLICY_SOURCES[lamp.controller.policy.kind])
    return Sources(files, headers, code, False)


def own_files(lamp: Lamp) -> tuple[Path, ...]:
    """The user's C files, relative to the lamp file; raises InputError for one that is none."""
    folder = lamp.source.parent if lamp.source else Path()
    files = []
    for index, name in enumerate(lamp.controller.c or ()):
        file = (folder / name).resolve()
        if file.suffix != ".c" or not file.is_file():
            why = "no such file" if file.suffix == ".c" else "its name does not end in .c"
            where = f"{lamp.source or lamp.name}: controller.c[{index}]"
            raise InputError(f'{where}: found "{name}", due a C file beside the lamp file ({why})')
        files.append(file)
    return tuple(files)
