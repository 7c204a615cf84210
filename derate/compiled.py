"""Numeric functions compiled with numba, cached on disk by the text of their rooms.

numba notices an edit of the file a function stands in, but not of the files it calls into.
The cache folder therefore carries a hash of every source in the rooms that hold compiled
functions and what they use, so that an edit there starts a fresh cache and a stale result cannot
be met. The cache only saves time: where it cannot be written or read, on a full disk or after a
crash, functions are compiled anew.
"""

import contextlib
import hashlib
import os
import pickle
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core.caching import FunctionCache

ROOMS = ("lamp", "plant", "sensing", "control", "firmware", "loop")
"""Rooms with compiled functions and the rooms those draw constants from."""


def _cache_folder() -> Path:
    digest = hashlib.sha256()
    package = Path(__file__).parent
    sources = [Path(__file__), package / "lanes.py"] + [
        p for room in ROOMS for p in (package / room).rglob("*.py")
    ]
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


class _Cache(FunctionCache):
    """numba's cache of one function, without its failures."""

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a compiled form, if the disk takes it."""
        try:
            super().save_overload(sig, data)
        except _SPOILT:
            return

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """A compiled form kept earlier, None when there is none that can be read."""
        try:
            return super().load_overload(sig, target_context)
        except _SPOILT:
            return None


_SPOILT = (OSError, EOFError, pickle.UnpicklingError)


def kept_on_disk(**options: Any) -> Callable[[Callable[..., Any]], Any]:
    """A decorator: compile on first call with these options of numba.njit, keep on disk."""

    def decorate(function: Callable[..., Any]) -> Any:
        dispatcher = numba.njit(**options)(function)
        with contextlib.suppress(RuntimeError):  # no folder on this machine can keep a cache
            dispatcher._cache = _Cache(function)
        return dispatcher

    return decorate


compiled = kept_on_disk(error_model="numpy")
"""Decorator: compile on first call, keep on disk; the plain function stays at ``.py_func``."""
kernel = kept_on_disk(error_model="numpy", _nrt=False)
"""The same, for functions that only fill given arrays: they run once a tick for every unit, must
not allocate, and need not count references to the arrays they are given, which makes them three
times faster. numba refuses to compile one that would allocate."""
inlined = kept_on_disk(error_model="numpy", _nrt=False, forceinline=True)
"""The same, for steps of a larger function: where one with many arguments is called from one
place, handing them over costs as much as the work."""
