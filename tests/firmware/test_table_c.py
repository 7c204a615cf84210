"""The C of a reading table: every code, every kind, every width, bit for bit; and its self-test."""

import ctypes
import re
import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from derate import __version__
from derate.errors import InputError
from derate.firmware import build
from derate.firmware.table_c import file_names, header_text, source_text
from derate.firmware.table_conversion import conversion
from derate.firmware.table_self_test import runs, self_test_text
from derate.sensing import circuit as circuits
from derate.sensing.circuit import HEALTHY, OPEN, SHORT
from derate.sensing.lookup import wires_at
from derate.sensing.tables import build_table, readings
from tests.firmware.test_build import PACKAGED, SMALL_CORE, SMALL_INT, STRICT, needs_packaged
from tests.sensing.invented import sensor

KINDS = ("placed knots", "temperature steps", "code steps", "direct")
WALK = Path(__file__).with_name("table_walk.c")
RANGE_C = (-20.0, 110.0)
HOTTEST = 32767
needs_cc = pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc on this machine")


def made(kind, bits=12, arrangement="pull-up", scale=100, max_error_k=0.3):
    """A table of an invented sensor."""
    circuit = circuits.from_lamp(sensor(arrangement, adc={"bits": bits}))
    error_k = None if kind == "direct" else max_error_k
    return build_table(circuit, RANGE_C, kind=kind, max_error_k=error_k, scale=scale, where="ntc")


def written(table, folder, about=("Chain: invented.",)):
    """Header, source and self-test in a folder; their paths."""
    texts = (header_text, source_text, self_test_text)
    paths = [folder / name for name in file_names("ntc")]
    for path, text in zip(paths, texts, strict=True):
        path.write_text(text("ntc", table, about), encoding="ascii")
    return paths


def walked(source, folder, flags=("-O1",)):
    """States and readings of all 65536 codes, from the compiled source."""
    library = folder / "table.so"
    command = build.find_compiler().command
    flags = ("-std=c99", *build.WARNINGS, "-Werror", *flags, "-fPIC", "-shared")
    arguments = [*flags, f"-I{folder}", str(source), str(WALK), "-o", str(library)]
    done = subprocess.run([*command, *arguments], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert not done.stderr
    states, found = np.zeros((2, 65536), np.int16)
    pointers = [a.ctypes.data_as(ctypes.c_void_p) for a in (states, found)]
    ctypes.CDLL(str(library)).table_walk(*pointers)
    return states, found


def expected(table):
    """The same from Python."""
    window = table.window
    ends = (window.low_code, window.high_code, window.open_is_high)
    states = np.array([wires_at(*ends, code) for code in range(65536)], np.int16)
    found = np.full(65536, HOTTEST, np.int64)
    healthy = np.flatnonzero(states == HEALTHY)
    found[healthy] = readings(table, healthy)
    return states, found


@needs_cc
@pytest.mark.parametrize("bits", [8, 10, 12, 14, 16])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("arrangement", ["pull-up", "pull-down"])
def test_every_code_as_in_python(arrangement, kind, bits, tmp_path):
    """Compiled with every warning an error, all 65536 codes give state and reading of Python."""
    error_k = 1.5 if bits == 8 else 0.3
    table = made(kind, bits, arrangement, max_error_k=error_k)
    _, source, test = written(table, tmp_path)
    for actual, desired in zip(walked(source, tmp_path), expected(table), strict=True):
        np.testing.assert_array_equal(actual, desired)
    assert self_tested(source, test, tmp_path) == (0, "ntc: all codes give the readings that are"
                                                   " due\n")  # fmt: skip


def self_tested(source, test, folder):
    """Exit status and output of the self-test, built as its comment says."""
    program = folder / "ntc_test"
    arguments = [*STRICT[:-1], str(source), str(test), "-o", str(program)]
    subprocess.run(["gcc", *arguments], check=True)
    done = subprocess.run([str(program)], capture_output=True, text=True)
    return done.returncode, done.stdout


@needs_cc
@pytest.mark.parametrize("kind", KINDS)
def test_the_self_test_names_the_first_wrong_code(kind, tmp_path):
    """One constant off by one: status 1, and the first code that reads differently is named."""
    table = made(kind)
    _, source, test = written(table, tmp_path)
    text = source.read_text()
    name = "codes" if kind == "temperature steps" else "values"
    numbers = re.search(rf"{name}\[\] = {{\n(.*?)\n}};", text, re.DOTALL)
    third = re.findall(r"-?\d+", numbers[1])[3]
    wrong = re.sub(rf"(?<!\d){third}(?!\d)", str(int(third) + 1), numbers[1], count=1)
    source.write_text(text.replace(numbers[1], wrong))
    _, found = walked(source, tmp_path)
    first = int(np.flatnonzero(found != expected(table)[1])[0])
    status, told = self_tested(source, test, tmp_path)
    assert status == 1
    assert told == (f"ntc: code {first} gives {found[first]}, and {expected(table)[1][first]}"
                    " is due\n")  # fmt: skip


@needs_cc
def test_the_self_test_sees_a_lost_fault(tmp_path):
    """A window moved by one code is found, at its edge."""
    table = made("placed knots")
    _, source, test = written(table, tmp_path)
    high = table.window.high_code
    source.write_text(source.read_text().replace(f">= {high}u", f">= {high + 1}u"))
    status, told = self_tested(source, test, tmp_path)
    assert status == 1
    assert told.startswith(f"ntc: code {high} gives ")


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_bytes_twice(kind):
    """Made anew from the same sensor, all three files are byte-identical, and plain ASCII."""
    for text in (header_text, source_text, self_test_text):
        first = text("ntc", made(kind), ("Chain: invented.",))
        assert first == text("ntc", made(kind), ("Chain: invented.",))
        assert first.isascii()


@needs_cc
@pytest.mark.parametrize("kind", KINDS)
def test_constants_can_live_elsewhere(kind, tmp_path):
    """Every constant of the table is read through the macro, which may be a special read."""
    table = made(kind)
    _, source, _ = written(table, tmp_path)
    bare = re.sub(r"DERATE_TABLE_READ\(&\w+\[i\]\)|(codes|values)\[\] =|/\*.*?\*/", "",
                  source.read_text(), flags=re.DOTALL)  # fmt: skip
    assert not re.search(r"\b(codes|values)\b", bare)
    far = "-DDERATE_TABLE_READ(place)=(*(const volatile uint16_t *)(const void *)(place))"
    flags = ("-DDERATE_TABLE_CONST=const __attribute__((aligned(4)))", far)
    for actual, desired in zip(walked(source, tmp_path, flags), expected(table), strict=True):
        np.testing.assert_array_equal(actual, desired)


@needs_packaged
@pytest.mark.slow
@pytest.mark.parametrize("target", [SMALL_INT, SMALL_CORE, ("-O2",)], ids=["16", "32", "host"])
@pytest.mark.parametrize("kind", KINDS)
def test_other_compilers_have_nothing_to_say(kind, target, tmp_path):
    """No warning where int has 16 bits, for a small 32-bit core, and from the packaged compiler."""
    _, source, test = written(made(kind), tmp_path)
    for file, more in ((source, ()), (test, ("-DDERATE_TABLE_TEST_ONLY",))):
        arguments = [*STRICT, *target, "-ffreestanding", *more, str(file), "-o", f"{file}.o"]
        done = subprocess.run([*PACKAGED, *arguments], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        assert not done.stderr


@needs_cc
@pytest.mark.skipif(shutil.which("nm") is None, reason="no nm on this machine")
@pytest.mark.parametrize("kind", KINDS)
def test_the_table_calls_nobody(kind, tmp_path):
    """No library function is called, one function is public, and nothing is kept between calls."""
    _, source, _ = written(made(kind), tmp_path)
    flags = ["-ffreestanding", "-Os", str(source), "-o", str(tmp_path / "t.o")]
    subprocess.run(["gcc", *STRICT, *flags], check=True)
    listed = subprocess.run(
        ["nm", str(tmp_path / "t.o")], check=True, capture_output=True, text=True
    )
    symbols = {(kind, name) for *_, kind, name in map(str.split, listed.stdout.splitlines())}
    assert {name for kind, name in symbols if kind == "T"} == {"ntc_reading"}
    assert not {name for kind, name in symbols if kind in "UbBdDC"}


def test_the_comment_says_what_made_it():
    """Version, provenance, cautions; nothing a name holds leaves the comment."""
    text = source_text("ntc", made("direct"), ('Lamp: end */ int x; /* what??/ "a"',))
    head, _, rest = text.partition("*/")
    assert __version__ in head
    assert "hardware cut-out" in head
    assert "int x" in head
    assert rest.startswith('\n#include "ntc_reading.h"')


@pytest.mark.parametrize("scale", [16, 100])
def test_the_header_states_the_scale(scale):
    """Counts per kelvin stand in the header as the readings use them."""
    table = made("placed knots", scale=scale)
    assert f"#define NTC_COUNTS_PER_KELVIN {scale}\n" in header_text("ntc", table)


def test_runs_cover_every_healthy_code():
    """The expectations begin at the first healthy code and change at every other reading."""
    table = made("code steps")
    begins, counts = runs(table)
    assert begins[0] == table.window.low_code + 1
    codes = np.arange(begins[0], table.window.high_code)
    filled = counts[np.searchsorted(begins, codes, side="right") - 1]
    np.testing.assert_array_equal(filled, readings(table, codes))
    assert np.all(np.diff(counts) != 0)


def test_states_are_those_of_the_sensing_room():
    """The numbers of the C states are those that Python uses."""
    text = header_text("ntc", made("direct"))
    states = re.search(r"NTC_HEALTHY = (\d), NTC_OPEN = (\d), NTC_SHORT = (\d)", text)
    assert tuple(map(int, states.groups())) == (HEALTHY, OPEN, SHORT)


def test_a_product_beyond_32_bits_is_refused():
    """A segment too steep and long for the arithmetic is refused in a sentence."""
    steep = SimpleNamespace(
        kind="placed knots",
        codes=np.array([0, 65535], np.uint16),
        values=np.array([32767, -32768], np.int16),
        first_code=0,
        shift=0,
    )
    with pytest.raises(InputError, match="65535 counts"):
        conversion(steep)
