"""The folder that results are written to: made in time, and files that appear whole."""

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from derate.errors import InputError, SurroundingsError


def prepare(folder: Path, option: str = "--out") -> None:
    """Make the folder, or say why it cannot be used; called before the work begins.

    ``option`` is how the command line asked for it. Raises InputError if ``folder`` is or lies in
    a file, SurroundingsError if it cannot be written.
    """
    if os.path.exists(folder) and not os.path.isdir(folder):
        raise InputError(f"{option} {folder} is a file, and a folder is due")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise InputError(f"{option} {folder} lies in something that is no folder") from None
    except OSError as error:
        raise SurroundingsError(_reason(folder, error)) from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise SurroundingsError(f"{option} {folder} cannot be written: permission denied")


@contextmanager
def gone_if_in_vain(folders: Iterable[Path]) -> Iterator[None]:
    """Folders that were not there before go again if the work fails and leaves them empty."""
    made = [
        part
        for folder in folders
        for part in (folder, *folder.parents)
        if not os.path.lexists(part)
    ]
    try:
        yield
    except BaseException:
        for folder in made:
            with suppress(OSError):
                folder.rmdir()
        raise


def place(path: Path, content: bytes) -> Path:
    """Write under another name, then give the file its name in one go: whole or not at all."""
    return place_all(path.parent, [(path.name, content)])[0]


def place_all(folder: Path, contents: Iterable[tuple[str, bytes]]) -> tuple[Path, ...]:
    """Write all files under other names, then give them theirs; if one fails, none is changed.

    The first gets its name last, so that it tells that the others are there. Returns the paths.
    """
    waiting: dict[Path, Path] = {}
    try:
        for name, content in contents:
            path = folder / name
            if os.path.isdir(path):
                raise InputError(f"{path} is a folder, and a file of that name is to be written")
            waiting[path] = _aside(path)
            waiting[path].write_bytes(content)
        for path in reversed(waiting):
            os.replace(waiting[path], path)
    except OSError as error:
        raise SurroundingsError(_reason(path, error)) from error
    finally:
        for partial in waiting.values():
            partial.unlink(missing_ok=True)
    return tuple(waiting)


def place_new(path: Path, content: bytes) -> None:
    """Like ``place``, but never over another file: raises FileExistsError, or other OSErrors."""
    partial = _aside(path)
    try:
        partial.write_bytes(content)
        try:
            os.link(partial, path)
        except FileExistsError:
            raise
        except OSError:  # no hard links here
            if os.path.lexists(path):
                raise FileExistsError from None
            os.rename(partial, path)
    finally:
        partial.unlink(missing_ok=True)


def _aside(path: Path) -> Path:
    return path.with_name(f".{path.name[:60]}.{os.getpid()}.part")


def _reason(path: Path, error: OSError) -> str:
    return f"{path} cannot be written: {(error.strerror or str(error)).lower()}"
