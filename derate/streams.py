"""Standard output and standard error as the command line uses them: closed, full or not Unicode."""

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from derate.errors import SurroundingsError


def ready() -> None:
    """Make both streams fit to use: signs that one cannot show become escapes.

    Without standard error its words go nowhere; without standard output there is no result, so
    this raises SurroundingsError.
    """
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - lives as long as we
    if sys.stdout is None:
        raise SurroundingsError("standard output is closed, and results go there")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


@contextmanager
def writing(encoding: str | None = None) -> Iterator[None]:
    """Write and flush results here, in an encoding if it must be this one.

    Raises SurroundingsError if standard output takes no more; BrokenPipeError stays what it is.
    """
    if encoding and isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding=encoding)
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        abandon()
        reason = (error.strerror or str(error)).lower()
        raise SurroundingsError(f"standard output cannot be written: {reason}") from None


def abandon() -> None:
    """Let what is still to be written go nowhere, so that nothing complains at the very end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
