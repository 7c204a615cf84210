"""Compiling the reference controller for this machine.

The compiler is $CC, else the first of cc, gcc and clang on the path, else the one that comes as
a Python package. Results are kept in the user's cache folder under a hash of all that went in;
they are written aside and renamed, so that two processes may build at once, and carry their size
in their name, because loading one that was cut short would end the program.
"""

import hashlib
import importlib.util
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from derate.errors import SurroundingsError

WARNINGS = ("-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-pedantic")
FLAGS = ("-std=c99", "-O2", *WARNINGS, "-fPIC", "-shared")
NAMES = ("cc", "gcc", "clang")
TIMEOUT_S = 120.0
NO_COMPILER = (
    'no C compiler found for controller.body = "c": install one with'
    ' `pip install derate[compiler]`, or set body = "python"'
)


class Compiler(NamedTuple):
    """A command that compiles C, and a text that changes when the compiler does."""

    command: tuple[str, ...]
    identity: str


def reference_folder() -> Path:
    """Where the reference controller lies: inside the package, or beside it in a checkout."""
    package = Path(__file__).parents[1]
    inside = package / "firmware_ref"
    return inside if inside.is_dir() else package.parent / "firmware_ref"


def controller_sources(policy_source: str) -> tuple[Path, ...]:
    """The C files of a controller with one policy, such as "foldback"."""
    folder = reference_folder()
    return tuple(folder / f"{name}.c" for name in ("controller", "derate", policy_source))


def find_compiler(environment: Mapping[str, str] = os.environ) -> Compiler:
    """The compiler to use; raises SurroundingsError when there is none."""
    named = environment.get("CC", "")
    try:
        chosen = shlex.split(named)
    except ValueError as error:
        reason = f"CC holds {named!r}, which is no command: {str(error).lower()}"
        raise SurroundingsError(reason) from None
    if chosen:
        found = shutil.which(chosen[0], path=environment.get("PATH"))
        if found is None:
            raise SurroundingsError(f'the compiler named by CC, "{chosen[0]}", is not found')
        return identified((found, *chosen[1:]))
    for name in NAMES:
        found = shutil.which(name, path=environment.get("PATH"))
        if found:
            return identified((found,))
    if importlib.util.find_spec("ziglang") is None:
        raise SurroundingsError(NO_COMPILER)
    return packaged_compiler()


def identified(command: tuple[str, ...]) -> Compiler:
    """A command that compiles, told apart by its program file."""
    file = Path(command[0]).resolve()
    stat = file.stat()
    return Compiler(command, f"{file} {stat.st_size} {stat.st_mtime_ns} {command[1:]}")


def packaged_compiler() -> Compiler:
    """The compiler that comes as a Python package."""
    from importlib.metadata import version

    return Compiler((sys.executable, "-m", "ziglang", "cc"), f"ziglang {version('ziglang')}")


def cache_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Where compiled controllers are kept; made when it is not there."""
    try:
        root = Path(environment.get("XDG_CACHE_HOME") or Path.home() / ".cache")
        folder = root / "derate" / "firmware"
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError) as error:  # RuntimeError: this user has no home
        raise SurroundingsError(
            f"no cache folder can be made ({error}); set XDG_CACHE_HOME to a folder that can be"
            " written"
        ) from error
    return folder


def build_library(
    sources: Sequence[Path],
    headers: Mapping[str, str],
    *,
    flags: Sequence[str] = FLAGS,
    compiler: Compiler | None = None,
    key_text: str = "",
) -> Path:
    """The shared library of C ``sources`` and generated ``headers`` (file name to text).

    ``key_text`` stands for the headers in the cache key when only part of them matters.
    Raises SurroundingsError when there is no compiler, or it fails.
    """
    compiler = compiler or find_compiler()
    folder = cache_folder()
    key = hashlib.sha256()
    parts = [compiler.identity, *flags, key_text or repr(sorted(headers.items()))]
    folders = {*(source.parent for source in sources), reference_folder()}
    for file in sorted({*sources, *(h for f in folders for h in f.glob("*.h"))}):
        parts += [file.name, file.read_text(encoding="utf-8")]
    key.update("\0".join(parts).encode())
    name = key.hexdigest()[:32]
    return _kept(folder, name) or _compile(compiler, sources, headers, flags, folder / name)


def _kept(folder: Path, name: str) -> Path | None:
    """The library of that name in the cache, None when it is missing or cut short."""
    for file in folder.glob(f"{name}-*.so"):
        if file.name == f"{name}-{file.stat().st_size}.so":
            return file
    return None


def _compile(
    compiler: Compiler,
    sources: Sequence[Path],
    headers: Mapping[str, str],
    flags: Sequence[str],
    target: Path,
) -> Path:
    """Builds the library; ``target`` is its path without size and suffix."""
    try:
        with tempfile.TemporaryDirectory(dir=target.parent) as name:
            work = Path(name)
            places = laid_out(work, sources, headers)
            output = work / "controller.so"
            run_compiler(compiler, [*flags, *places, *map(str, sources), "-o", str(output)])
            if not output.exists():
                command = shlex.join(compiler.command)
                raise SurroundingsError(f"{command} ran but made no library: is it a C compiler?")
            library = target.with_name(f"{target.name}-{output.stat().st_size}.so")
            os.replace(output, library)
            return library
    except OSError as error:
        raise SurroundingsError(f"{target.parent} cannot be written: {error}") from error


def laid_out(work: Path, sources: Sequence[Path], headers: Mapping[str, str]) -> list[str]:
    """Write generated headers to a folder; the options by which ``sources`` find all headers."""
    for header, text in headers.items():
        (work / header).write_text(text, encoding="ascii")
    folders = sorted({*(source.parent for source in sources), reference_folder()})
    return [f"-I{folder}" for folder in (work, *folders)]


def run_compiler(compiler: Compiler, arguments: Sequence[str]) -> str:
    """Run the compiler; what it said, or SurroundingsError with its first complaint."""
    environment = dict(os.environ)
    for kind in ("GLOBAL", "LOCAL"):  # the packaged compiler's own cache, kept beside ours
        environment.setdefault(f"ZIG_{kind}_CACHE_DIR", str(cache_folder().parent / "compiler"))
    try:
        done = subprocess.run(
            [*compiler.command, *arguments],
            capture_output=True,
            text=True,
            errors="replace",
            env=environment,
            timeout=TIMEOUT_S,
        )
    except subprocess.TimeoutExpired:
        raise SurroundingsError(f"{compiler.command[0]} took longer than {TIMEOUT_S:g} s") from None
    except OSError as error:
        raise SurroundingsError(f"{compiler.command[0]} cannot be run: {error}") from None
    if done.returncode != 0:
        lines = done.stderr.splitlines() or [f"exit status {done.returncode}"]
        reason = next((line for line in lines if "error" in line), lines[0]).strip()
        command = shlex.join(compiler.command)
        raise SurroundingsError(f"{command} cannot compile the controller: {reason}")
    return done.stderr
