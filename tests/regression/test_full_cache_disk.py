"""A cache that cannot be written or read stopped the program with a traceback.

Cause: numba lets the errors of its files through. The cache only saves time, so compiled functions
now do without it.
"""

import pytest

from derate import compiled


def doubled(value):
    """Twice the value."""
    return 2 * value


@pytest.mark.parametrize("method", ["save", "load"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), EOFError()])
def test_a_cache_that_fails_is_done_without(monkeypatch, method, error):
    """With a full disk, or a file cut short, the function is compiled and gives its result."""

    def fail(*_):
        raise error

    monkeypatch.setattr("numba.core.caching.IndexDataCacheFile." + method, fail)
    assert compiled.compiled(doubled)(21) == 42


def test_without_any_cache_folder_functions_still_compile(monkeypatch):
    """Where numba finds no folder it may use, nothing is kept and everything works."""

    def none(_):
        raise RuntimeError("no locator available")

    monkeypatch.setattr(compiled, "_Cache", none)
    assert compiled.compiled(doubled)(21) == 42
