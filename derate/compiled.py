"""Numeric functions compiled with numba, cached on disk by the text of what they are made from.

numba notices an edit of the file a function stands in, but not of the files it calls into.
The cache folder of a function therefore carries a hash of its module and of every module of this
package that it draws on at import, near or far, so that an edit there starts a fresh cache, a stale
result cannot be met, and an edit elsewhere compiles nothing. The cache only saves time: where it
cannot be written or read, on a full disk or after a crash, functions are compiled anew.
"""

import contextlib
import functools
import hashlib
import os
import pickle
import re
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
from numba.core.caching import FunctionCache

PACKAGE = Path(__file__).parent
_DRAWS_ON = re.compile(rf"^from ({PACKAGE.name}[\w.]*) import (\([^)]*\)|.*)$", re.MULTILINE)
"""An import of this package's own modules at the left margin: what a kernel can draw on."""


def sources(module: Path) -> frozenset[Path]:
    """The files of this package whose text decides what the functions of ``module`` compile to."""
    found, due = {module}, [module]
    while due:
        new = _drawn_on(due.pop()) - found
        found |= new
        due += new
    return frozenset(found)


@functools.cache
def _drawn_on(module: Path) -> frozenset[Path]:
    """The files that one file imports from."""
    found = set()
    for name, taken in _DRAWS_ON.findall(module.read_text(encoding="utf-8")):
        place = PACKAGE.joinpath(*name.split(".")[1:])
        parts = [place / part for part in re.findall(r"\w+", taken)]
        found |= {p.with_suffix(".py") for p in (place, *parts)} | {place / "__init__.py"}
    return frozenset(p for p in found if p.exists())


@functools.cache
def _folder(module: Path) -> str:
    """Where the compiled functions of a module are kept."""
    digest = hashlib.sha256()
    for source in sorted(sources(module) | {Path(__file__)}):
        digest.update(os.path.relpath(source, PACKAGE).encode())
        digest.update(source.read_bytes())
    return str(_root() / "numba" / digest.hexdigest()[:16])


@functools.cache
def _root() -> Path:
    root = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "derate"
    try:
        root.mkdir(parents=True, exist_ok=True)
    except OSError:
        return Path(tempfile.gettempdir()) / f"derate-{os.getuid()}"
    return root


class _Cache(FunctionCache):
    """numba's cache of one function, in a folder of its text and without its failures."""

    def __init__(self, function: Callable[..., Any]) -> None:
        """Raises RuntimeError where no folder on this machine can keep a cache."""
        if "NUMBA_CACHE_DIR" not in os.environ:
            setattr(numba.config, "CACHE_DIR", _folder(Path(function.__code__.co_filename)))  # noqa: B010 - not in numba's stubs
        super().__init__(function)

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
