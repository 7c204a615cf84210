"""What the commands share: how they speak, where they put files, what the user asked for."""

import argparse
import shlex
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from derate import streams
from derate.errors import InputError, printable

if TYPE_CHECKING:
    from derate.lamp import Lamp, Profile

HELD, EXCEEDED, WRONG = 0, 1, 2
"""Exit status: limits held, one was exceeded, the input or the surroundings are wrong."""


def profile_asked(lamp: "Lamp", given: argparse.Namespace) -> tuple[str, "Profile"]:
    """Name and profile that --profile asks for; says so when it is the first of several."""
    from derate.lamp import profile_of

    name, profile = profile_of(lamp, given.profile)
    if given.profile is None and len(lamp.profiles) > 1:
        tell(f"no --profile given, so {name}, the first of {', '.join(lamp.profiles)}")
    return name, profile


def prepared(out: Path | None, option: str = "--out") -> Path | None:
    """The folder for an option, made before any work."""
    if out is not None:
        from derate.report.folder import prepare

        prepare(out, option)
    return out


def command_line(given: argparse.Namespace) -> str:
    """The command line as it could be typed again."""
    return shlex.join(["derate", *given.words])


def show(
    subject: Any,
    to_json: Callable[[Any], str],
    print_for_people: Callable[[Any, IO[str]], None],
    *,
    as_json: bool,
) -> None:
    """Print a result or study for a machine or for people."""
    if as_json:
        with streams.writing("utf-8"):
            sys.stdout.write(to_json(subject))
    else:
        with streams.writing():
            print_for_people(subject, sys.stdout)


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Let complaints about a lamp name its file."""
    try:
        yield
    except InputError as error:
        if str(path) in str(error):
            raise
        raise InputError(f"{path}: {error}") from None


def tell_of_compiling() -> None:
    """Say so when the compiled kernels are not there yet."""
    import numba

    import derate.compiled  # noqa: F401  sets the folder

    if not Path(vars(numba.config)["CACHE_DIR"]).exists():
        tell("the first run compiles its kernels, which takes some seconds")


def say(line: str) -> None:
    """A line on standard output."""
    with streams.writing():
        print(line)


def tell(message: str) -> None:
    """Progress, warnings and complaints, on standard error, each in one line."""
    print(f"derate: {printable(message)}", file=sys.stderr, flush=True)
