"""The folder that results are written to: made in time, and files that appear whole."""

import os
from pathlib import Path

from derate.errors import InputError, SurroundingsError


def prepare(folder: Path) -> None:
    """Make the folder, or say why it cannot be used; called before the work begins.

    Raises InputError if ``folder`` is or lies in a file, SurroundingsError if it cannot be written.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(f"--out {folder} is a file, and a folder is due")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise InputError(f"--out {folder} lies in something that is no folder") from None
    except OSError as error:
        raise SurroundingsError(_reason(folder, error)) from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise SurroundingsError(f"--out {folder} cannot be written: permission denied")


def place(path: Path, content: bytes) -> Path:
    """Write under another name, then give the file its name in one go: whole or not at all."""
    if path.is_dir():
        raise InputError(f"{path} is a folder, and a file of that name is to be written")
    partial = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        partial.write_bytes(content)
        os.replace(partial, path)
    except OSError as error:
        raise SurroundingsError(_reason(path, error)) from error
    finally:
        partial.unlink(missing_ok=True)
    return path


def _reason(path: Path, error: OSError) -> str:
    return f"{path} cannot be written: {(error.strerror or str(error)).lower()}"
