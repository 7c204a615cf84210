"""The house rules that a machine can check: arrows between rooms, sizes, names, lint, types."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "derate"
SOURCES = sorted(PACKAGE.rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("test_*.py"))

MAY_IMPORT = {
    "lamp": set(),
    "plant": {"lamp"},
    "sensing": {"lamp"},
    "control": {"lamp", "plant", "sensing"},
    "firmware": {"lamp", "sensing", "control"},
    "loop": {"lamp", "plant", "sensing", "control", "firmware"},
    "study": {"lamp", "plant", "sensing", "control", "firmware", "loop"},
    "limits": {"lamp", "plant", "sensing", "control", "firmware", "loop", "study"},
    "report": {"lamp", "plant", "sensing", "control", "firmware", "loop", "study", "limits"},
}
"""Arrows run one way; ``errors`` and ``compiled`` lie below all rooms, ``cli`` above."""
FILE_LINES_HARD = 400
FUNCTION_LINES_HARD = 60
NO_ROOM_NAMES = {"util", "utils", "helper", "helpers", "common", "base", "core", "manager", "misc"}


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def _imports(tree: ast.AST) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return {name for name in found if name == "derate" or name.startswith("derate.")}


def forbidden_imports(room: str, source: str) -> set[str]:
    """Rooms that a source of ``room`` imports and must not."""
    rooms = {name.split(".")[1] for name in _imports(ast.parse(source)) if "." in name}
    return (rooms & set(MAY_IMPORT)) - MAY_IMPORT[room] - {room}


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_arrows_run_one_way(path):
    """No room imports a room above it, not even inside a function."""
    if _room(path) in MAY_IMPORT:
        assert not forbidden_imports(_room(path), path.read_text())


def test_the_arrow_check_bites():
    """An import against the arrows is found, at module level and inside a function."""
    assert forbidden_imports("plant", "from derate.loop.run import run") == {"loop"}
    assert forbidden_imports("lamp", "def f():\n    import derate.report.page") == {"report"}
    assert not forbidden_imports("loop", "from derate.plant import network")


def test_every_room_has_its_arrows():
    """A new room must be given its place."""
    rooms = {p.name for p in PACKAGE.iterdir() if p.is_dir() and (p / "__init__.py").exists()}
    assert rooms - {"firmware_ref"} <= set(MAY_IMPORT)


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_files_and_functions_stay_small(path):
    """One concept a file; a function fits a screen."""
    text = path.read_text()
    assert len(text.splitlines()) <= FILE_LINES_HARD
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body = [n for n in node.body if not _is_docstring(n)]
            lines = (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
            assert lines <= FUNCTION_LINES_HARD, f"{node.name} has {lines} lines"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_names_and_docstrings(path):
    """Every module and public function says what it is; no drawer modules."""
    assert not set(path.relative_to(PACKAGE).with_suffix("").parts) & NO_ROOM_NAMES
    tree = ast.parse(path.read_text())
    if path.stat().st_size:
        assert ast.get_docstring(tree), "module docstring"
    for node in ast.walk(tree):
        public = isinstance(node, (ast.FunctionDef, ast.ClassDef)) and node.name[0] != "_"
        if public and not _nested(tree, node):
            assert ast.get_docstring(node), f"{node.name} has no docstring"


@pytest.mark.parametrize("path", TESTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_tests_state_their_claim(path):
    """Every test has a docstring that says what holds."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test"):
            assert ast.get_docstring(node), f"{node.name} states no claim"


def test_ruff_is_content():
    """The linter finds nothing."""
    _run("ruff", "check", ".")


@pytest.mark.slow
def test_types_are_consistent():
    """The type checker finds nothing."""
    _run("mypy")


def _run(module: str, *arguments: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", module, *arguments], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _nested(tree: ast.AST, node: ast.AST) -> bool:
    functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef) and n is not node]
    return any(node in ast.walk(f) for f in functions)
