"""Lamp and profile files: TOML in, validated values or one clear sentence out."""

import hashlib
import os
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from derate.errors import InputError, printable
from derate.lamp.agreement import check_profile
from derate.lamp.extremes import check_extremes
from derate.lamp.lamp import Lamp, validated
from derate.lamp.profile import Profile
from derate.lamp.quantities import Source
from derate.lamp.sentence import Mistake, mistakes, nearest, shown, told

_SYNTAX_DUE = "TOML, where text and quantities stand in quotes"


def load(path: str | Path) -> Lamp:
    """The lamp in the file ``path``; raises InputError with a sentence a mistake."""
    path = Path(path)
    content = _content(path, "a lamp file (`derate new` writes one)")
    raw = _parsed(content, path)
    lamp = validated(Lamp.model_validate, raw, Source(path.parent), str(path))
    lamp._source, lamp._sha256, lamp._raw = path, hashlib.sha256(content).hexdigest(), raw
    lamp._text = content.decode("utf-8-sig")
    check_extremes(lamp, raw, str(path))
    return lamp


def load_profile(path: str | Path, lamp: Lamp) -> Profile:
    """The mission profile in the file ``path``, checked against ``lamp``; raises InputError.

    The file holds the keys that a lamp file has under ``[profiles.NAME]``.
    """
    path = Path(path)
    content = _content(path, "a profile file")
    raw = _parsed(content, path)
    profile = validated(Profile.model_validate, raw, Source(path.parent), str(path))
    profile._text = content.decode("utf-8-sig")
    try:
        check_profile(lamp, profile)
    except (PydanticCustomError, ValidationError) as error:
        raise InputError(*told(mistakes(error, raw), str(path))) from None
    return profile


def profile_of(lamp: Lamp, asked: str | Path | None = None) -> tuple[str, Profile]:
    """Name and profile: of the lamp by name, of a file by its path, the lamp's first by default.

    Raises InputError when there is no such profile.
    """
    title = str(lamp.source) if lamp.source else lamp.name
    if asked is None:
        if not lamp.profiles:
            raise InputError(
                Mistake(("profiles",), "none", "a profile in it, or a profile file").sentence(title)
            )
        asked = next(iter(lamp.profiles))
    if asked in lamp.profiles:
        return str(asked), lamp.profiles[str(asked)]
    if Path(asked).suffix == ".toml" or os.path.exists(asked):
        return printable(Path(asked).stem), load_profile(asked, lamp)
    due = f"a profile file or one of {nearest(asked, lamp.profiles)}"
    raise InputError(Mistake(("profile",), shown(str(asked)), due).sentence(title))


def starter_text(*, board: bool = False) -> str:
    """A complete lamp file with its keys explained, to begin from.

    ``board``: one described by its drawing instead of by nodes and links.
    """
    name = "starter_board.toml" if board else "starter.toml"
    return resources.files("derate.lamp").joinpath(name).read_text(encoding="utf-8")


def _content(path: Path, due: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        found = "no such file"
    except IsADirectoryError:
        found = "a folder"
    except PermissionError:
        found = "a file that may not be read"
    except (OSError, ValueError):
        found = "no file that can be read"
    raise InputError(Mistake((), found, due).sentence(str(path)))


def _parsed(content: bytes, path: Path) -> dict[str, Any]:
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        mistake = Mistake((), f"a byte that is not UTF-8 in line {line}", "a text file in UTF-8")
        raise InputError(mistake.sentence(str(path))) from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_syntax(str(error), text).sentence(str(path))) from None
    except (ValueError, RecursionError):
        mistake = Mistake((), "a value too long or too deep to read", _SYNTAX_DUE)
        raise InputError(mistake.sentence(str(path))) from None


def _syntax(message: str, text: str) -> Mistake:
    """tomllib ends its message in "(at line 3, column 5)" or "(at end of document)"."""
    what, _, place = message.rstrip(")").rpartition(" (at ")
    lines = text.splitlines()
    number = place.removeprefix("line ").partition(",")[0]
    if number.isdigit() and int(number) <= len(lines):
        line = lines[int(number) - 1].strip()
        return Mistake((), f"{shown(line)} in line {number} ({_lower(what)})", _SYNTAX_DUE)
    return Mistake((), f"{_lower(what)} at the end of the file", _SYNTAX_DUE)


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
