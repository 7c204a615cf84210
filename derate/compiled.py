"""Numeric functions compiled with numba, cached on disk by the text of their rooms.

numba notices an edit of the file a function stands in, but not of the files it calls into.
The cache folder therefore carries a hash of every source in the rooms that hold compiled
functions and what they use, so that an edit there starts a fresh cache and a stale result cannot
be met.
"""

import hashlib
import os
import tempfile
from pathlib import Path

import numba

ROOMS = ("lamp", "plant", "sensing", "control")
"""Rooms with compiled functions and the rooms those draw constants from."""


def _cache_folder() -> Path:
    digest = hashlib.sha256()
    package = Path(__file__).parent
    sources = [Path(__file__)] + [p for room in ROOMS for p in (package / room).rglob("*.py")]
    for source in sorted(sources):
        digest.update(source.relative_to(package).as_posix().encode())
        digest.update(source.read_bytes())
    root = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "derate"
    try:
        root.mkdir(parents=True, exist_ok=True)
    except OSError:
        root = Path(tempfile.gettempdir()) / f"derate-{os.getuid()}"
    return root / "numba" / digest.hexdigest()[:16]


if "NUMBA_CACHE_DIR" not in os.environ:
    setattr(numba.config, "CACHE_DIR", str(_cache_folder()))  # noqa: B010 - not in numba's stubs

compiled = numba.njit(cache=True, error_model="numpy")
"""Decorator: compile on first call, keep on disk; the plain function stays at ``.py_func``."""
