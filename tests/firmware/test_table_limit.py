"""The threshold in C: every code of both arrangements, readings beyond the scale, names."""

import ctypes
import subprocess

import numpy as np
import pytest

from derate.errors import InputError
from derate.firmware import build
from derate.firmware.table_c import file_names, header_text, source_text
from derate.firmware.table_self_test import self_test_text
from derate.sensing.circuit import HEALTHY
from derate.sensing.threshold import threshold
from tests.firmware.test_table_c import expected, made
from tests.sensing.invented import sensor

LIMIT_C = 85.0
LEAST, MOST = -32768, 32767
WALK = """\
#include "ntc_reading.h"
void limit_walk(int16_t *hot);
void limit_walk(int16_t *hot)
{
    uint32_t code;
    for (code = 0u; code <= UINT32_C(65535); code++) {
        hot[code] = (int16_t)ntc_too_hot((uint16_t)code);
    }
}
"""
DEGREES = """\
#include "ntc_reading.h"
static const int16_t ends[] = {
    NTC_DEGC(85), NTC_DEGC(400), NTC_DEGC(-400), NTC_DEGC(2000000000), NTC_DEGC(85u),
};
void degrees(int16_t *found);
void degrees(int16_t *found)
{
    int i;
    for (i = 0; i < 5; i++) {
        found[i] = ends[i];
    }
}
"""


def called(function, text, header, count, folder):
    """What a C function of ``text`` writes, compiled with every warning an error."""
    (folder / "ntc_reading.h").write_text(header, encoding="ascii")
    source, library = folder / "walk.c", folder / "walk.so"
    source.write_text(text, encoding="ascii")
    flags = ("-std=c99", *build.WARNINGS, "-Werror", "-O1", "-fPIC", "-shared", f"-I{folder}")
    command = [*build.find_compiler().command, *flags, str(source), "-o", str(library)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert not done.stderr
    found = np.zeros(count, np.int16)
    getattr(ctypes.CDLL(str(library)), function)(found.ctypes.data_as(ctypes.c_void_p))
    return found


@pytest.mark.parametrize("arrangement", ["pull-up", "pull-down"])
def test_too_hot_at_every_code(arrangement, tmp_path):
    """Hot from the threshold on, and for every code of both fault windows; else not."""
    table = made("placed knots", arrangement=arrangement)
    limit = threshold(sensor(arrangement), LIMIT_C, table=table)
    hot = called("limit_walk", WALK, header_text("ntc", table, (), limit), 65536, tmp_path)
    states, readings = expected(table)
    codes = np.arange(65536)
    beyond = codes <= limit.code if arrangement == "pull-up" else codes >= limit.code
    np.testing.assert_array_equal(hot, (states != HEALTHY) | beyond)
    healthy = states == HEALTHY
    assert np.any(hot[healthy])
    assert not np.all(hot[healthy])
    assert np.min(readings[healthy & (hot == 1)]) > np.max(readings[healthy & (hot == 0)])


def test_degrees_beyond_the_scale_are_clamped(tmp_path):
    """A temperature that no reading can hold becomes the nearest end and does not wrap."""
    header = header_text("ntc", made("direct"))
    found = called("degrees", DEGREES, header, 5, tmp_path)
    assert found.tolist() == [8500, MOST, LEAST, MOST, 8500]


@pytest.mark.parametrize("name", ["", "9c", "../ntc", "a b", "a-b", "\u00e4", "ntc\n", "a" * 64])
def test_names_that_are_none_in_c(name):
    """What cannot be an identifier, or would leave the folder, is refused in one sentence."""
    table = made("direct")
    for text in (header_text, source_text, self_test_text):
        with pytest.raises(InputError, match="due one for C"):
            text(name, table)
    with pytest.raises(InputError, match="due one for C"):
        file_names(name)
