"""The C compiles without a warning everywhere it should, and the build says what it lacks."""

import importlib.util
import os
import re
import shutil
import subprocess
import sys
import textwrap
import threading

import pytest

from derate.errors import SurroundingsError
from derate.firmware import build, link_settings
from derate.firmware.header import FILE_NAME, POLICY_SOURCES, settings_header
from derate.firmware.host import HostBody, library_of
from derate.lamp import starter_text
from derate.sensing.chain import chains_of
from tests.control.small_lamp import POLICIES, STEPS, small_lamp

PACKAGED = (sys.executable, "-m", "ziglang", "cc")
HAS_PACKAGED = importlib.util.find_spec("ziglang") is not None
needs_packaged = pytest.mark.skipif(not HAS_PACKAGED, reason="the compiler package is missing")
needs_gcc = pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")
STRICT = ("-std=c99", *build.WARNINGS, "-Werror", "-c")
SMALL_INT = ("-target", "msp430-freestanding-eabi", "-Os")
SMALL_CORE = ("-target", "thumb-freestanding-eabi", "-mcpu=cortex_m0", "-Os")


def compile_all(command, folder, *flags):
    """Compile every policy's controller with its generated header, warnings being errors."""
    for number, policy in enumerate(POLICIES.values()):
        lamp = small_lamp(policy, sensors=2, disagreement="5 K")
        place = folder / str(number)
        place.mkdir()
        (place / FILE_NAME).write_text(settings_header(lamp))
        places = [f"-I{place}", f"-I{build.reference_folder()}"]
        for source in build.controller_sources(POLICY_SOURCES[policy["kind"]]):
            output = place / f"{source.stem}.o"
            arguments = [*STRICT, *flags, *places, str(source), "-o", str(output)]
            done = subprocess.run([*command, *arguments], capture_output=True, text=True)
            assert done.returncode == 0, done.stderr
            assert not done.stderr


@needs_gcc
@pytest.mark.parametrize("level", ["-O0", "-O2", "-Os"])
def test_gcc_has_nothing_to_say(level, tmp_path):
    """No warning at any level of optimisation, also with gcc's own checks of shifts and casts."""
    more = ("-Wcast-qual", "-Wcast-align", "-Wshift-overflow=2", "-Wlogical-op", "-Wvla")
    compile_all(("gcc",), tmp_path, level, *more)


@needs_packaged
@pytest.mark.slow
def test_the_packaged_compiler_has_nothing_to_say(tmp_path):
    """No warning from the compiler that `pip install derate[compiler]` brings."""
    compile_all(PACKAGED, tmp_path, "-O2")


@needs_packaged
@pytest.mark.slow
@pytest.mark.parametrize("target", [SMALL_INT, SMALL_CORE], ids=["16-bit int", "32-bit core"])
def test_small_targets_have_nothing_to_say(target, tmp_path):
    """No warning where int has 16 bits, nor for a small 32-bit core without an operating system."""
    compile_all(PACKAGED, tmp_path, *target, "-ffreestanding")


@needs_packaged
@pytest.mark.slow
def test_the_packaged_compiler_drives_the_same_duties(monkeypatch):
    """Both compilers' builds give the same commands."""
    lamp = small_lamp(STEPS, filter_shift=3)
    usual = HostBody(lamp)
    monkeypatch.setattr(build, "find_compiler", build.packaged_compiler)
    other = HostBody(lamp)
    for code in range(4096):
        assert usual.step([code], [32768, 1]) == other.step([code], [32768, 1])


@needs_gcc
@pytest.mark.skipif(shutil.which("nm") is None, reason="no nm on this machine")
def test_the_c_calls_nobody_and_keeps_nothing(tmp_path):
    """No library function is called, and no variable outlives a call: all state is the caller's."""
    undefined, defined, kept = set(), set(), set()
    for source in build.reference_folder().glob("*.c"):
        if source.stem in ("controller", "link"):  # made for generated headers
            continue
        output = tmp_path / f"{source.stem}.o"
        arguments = ["-ffreestanding", "-Os", str(source), "-o", str(output)]
        subprocess.run(["gcc", *STRICT, *arguments], check=True)
        listed = subprocess.run(["nm", str(output)], check=True, capture_output=True, text=True)
        for *_, kind, name in map(str.split, listed.stdout.splitlines()):
            place = undefined if kind == "U" else kept if kind in "bBdDC" else defined
            place.add(name)
    assert undefined <= defined
    assert not kept


@needs_gcc
def test_the_examples_of_the_readme_compile(tmp_path):
    """The C that a firmware engineer copies from the README has no warning either."""
    text = (build.reference_folder() / "README.md").read_text()
    lamp = small_lamp()
    (tmp_path / FILE_NAME).write_text(settings_header(lamp))
    (tmp_path / link_settings.FILE_NAME).write_text(
        link_settings.link_header(lamp, chains_of(lamp))
    )
    places = [f"-I{tmp_path}", f"-I{build.reference_folder()}"]
    examples = re.findall(r"```c\n(.*?)```", text, re.DOTALL)
    assert len(examples) == 2
    for code in examples:
        (tmp_path / "example.c").write_text(textwrap.dedent(code))
        where = [*places, str(tmp_path / "example.c"), "-o", os.devnull]
        done = subprocess.run(["gcc", *STRICT, *where], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr


def test_the_python_of_the_readme_writes_the_header(tmp_path, monkeypatch):
    """The lines that generate the settings do so."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my_lamp.toml").write_text(starter_text(), encoding="utf-8")
    text = (build.reference_folder() / "README.md").read_text()
    exec(textwrap.dedent(re.search(r"```python\n(.*?)```", text, re.DOTALL)[1]), {})
    assert "derate_lamp_settings" in (tmp_path / FILE_NAME).read_text()


def test_without_a_compiler_both_ways_out_are_named(monkeypatch, tmp_path):
    """The sentence offers the compiler package and the Python body."""
    monkeypatch.setattr(build.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SurroundingsError) as told:
        build.find_compiler({"PATH": str(tmp_path)})
    assert "pip install derate[compiler]" in str(told.value)
    assert 'body = "python"' in str(told.value)


def test_a_compiler_that_does_not_exist_is_named():
    """CC is the user's word: no other compiler is taken in its place."""
    with pytest.raises(SurroundingsError, match="no_such_cc"):
        build.find_compiler({"CC": "no_such_cc -O1", "PATH": os.environ["PATH"]})


def test_an_open_quote_in_cc_is_told():
    """CC that no shell could read is named as it stands, not met with a traceback."""
    with pytest.raises(SurroundingsError, match=r"CC holds .*gcc '.*no closing quotation"):
        build.find_compiler({"CC": "gcc '", "PATH": os.environ["PATH"]})


def test_a_compiler_that_makes_nothing_is_told(monkeypatch, tmp_path):
    """A command that succeeds without a library is blamed, not the folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setenv("CC", "true")
    with pytest.raises(SurroundingsError, match="true ran but made no library"):
        HostBody(small_lamp())


def test_a_compiler_that_cannot_run_is_told(monkeypatch, tmp_path):
    """A file that is no program is blamed, not the folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    (tmp_path / "no_program").write_bytes(b"\x00")
    (tmp_path / "no_program").chmod(0o755)
    monkeypatch.setenv("CC", str(tmp_path / "no_program"))
    with pytest.raises(SurroundingsError, match="no_program cannot be run"):
        HostBody(small_lamp())


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0], ids=["empty", "half", "garbage"])
def test_a_spoilt_library_is_built_anew(monkeypatch, tmp_path, share):
    """An empty, cut or overwritten library in the cache is replaced.

    Cause: whatever lay under the name was loaded; half a library ends the whole program.
    """
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    lamp = small_lamp(cutoff="89 degC")
    library = library_of(lamp, chains_of(lamp))  # not loaded yet: a loaded one would be met again
    content = library.read_bytes()
    library.write_bytes(
        bytes(len(content)) if share == 1.0 else content[: int(share * len(content))]
    )
    assert HostBody(lamp).step([2000], [1, 2]).duties_q15 == (1, 2)


def test_a_compiler_that_fails_is_quoted(monkeypatch, tmp_path):
    """Its first complaint stands in the sentence."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    source = tmp_path / "wrong.c"
    source.write_text("int f(void) { return not_declared; }\n")
    with pytest.raises(SurroundingsError, match="not_declared"):
        build.build_library([source], {})


def test_a_cache_that_cannot_be_made_is_named(monkeypatch, tmp_path):
    """The sentence names the folder and XDG_CACHE_HOME."""
    (tmp_path / "file").write_text("")
    with pytest.raises(SurroundingsError, match="XDG_CACHE_HOME"):
        build.cache_folder({"XDG_CACHE_HOME": str(tmp_path / "file")})


def test_a_library_is_built_once(monkeypatch, tmp_path):
    """The same settings do not compile again; one changed setting does."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    ran = []
    true_run = build.run_compiler
    monkeypatch.setattr(build, "run_compiler", lambda *a: (ran.append(1), true_run(*a)))
    for cutoff in ("90 degC", "90 degC", "91 degC"):
        HostBody(small_lamp(cutoff=cutoff))
    assert len(ran) == 2


def test_two_builds_at_once_do_not_meet(monkeypatch, tmp_path):
    """Threads that build the same controller all get a whole library."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    lamp, found = small_lamp(), []
    threads = [
        threading.Thread(target=lambda: found.append(HostBody(lamp).step([2000], [1, 2])))
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [found[0]] * 4
    assert len(list((tmp_path / "derate" / "firmware").iterdir())) == 1
