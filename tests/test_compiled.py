"""What the cache of compiled functions is keyed by."""

import ast
import functools
from pathlib import Path

from derate.compiled import PACKAGE, sources


@functools.cache
def _imported(module: Path) -> set[Path]:
    """The package's files that a module imports from at import, by Python's own parser."""
    found = set()
    for node in ast.parse(module.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == PACKAGE.name:
            assert node.module is not None
            names = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names if a.name.startswith(f"{PACKAGE.name}.")]
        else:
            continue
        if not names:
            continue
        places = [PACKAGE.joinpath(*name.split(".")[1:]) for name in names]
        found |= {place.with_suffix(".py") for place in places} | {places[0] / "__init__.py"}
    return {path for path in found if path.exists()}


def test_no_import_is_missed():
    """Whatever a module draws on at import, near or far, is among its sources."""
    for module in PACKAGE.rglob("*.py"):
        found = sources(module)
        assert module in found
        missed = {s: _imported(s) - found for s in found if not _imported(s) <= found}
        assert not missed


def test_rooms_that_do_not_count():
    """A kernel of the plant does not depend on sensors, firmware or the loop."""
    places = [p.relative_to(PACKAGE) for p in sources(PACKAGE / "plant" / "advance.py")]
    assert {place.parts[0] for place in places if len(place.parts) > 1} == {"plant", "lamp"}
