"""The self-test of a reading table in C: every code against what Python made of it.

What is expected stands in the file as runs of codes that share a reading, so that the first wrong
code can be named and not only that there is one.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from derate.firmware.c_text import array
from derate.firmware.table_c import boxed, file_names, head

if TYPE_CHECKING:
    from derate.sensing.tables import ReadingTable

BUILD = (
    "Compile and run: cc {name}_reading.c {name}_reading_test.c -o {name}_test && ./{name}_test."
    " It leaves with 0 when every code is right, else it prints the first wrong one and leaves"
    " with 1. Without stdio, compile with -DDERATE_TABLE_TEST_ONLY and call"
    " {name}_first_wrong_code(): 65536 says that all are right."
)

TEXT = """\
{head}
{build}
#include "{name}_reading.h"

uint32_t {name}_first_wrong_code(int16_t *due, int16_t *found);

/* Runs of codes with one reading: where each begins, and the reading of its codes. */
{runs}
#define RUNS {count}u

/* The first code with another result than due, and both results; 65536 when there is none. */
uint32_t {name}_first_wrong_code(int16_t *due, int16_t *found)
{{
    uint32_t code, run = 0u;
    for (code = 0u; code <= UINT32_C(65535); code++) {{
        enum {name}_state state = {name}_reading((uint16_t)code, found);
        enum {name}_state state_due = code <= {low}u    ? {NAME}_{at_low}
                                      : code >= {high}u ? {NAME}_{at_high}
                                                   : {NAME}_HEALTHY;
        while (run + 1u < RUNS && begins[run + 1u] <= code) {{
            run++;
        }}
        *due = state_due == {NAME}_HEALTHY ? expected[run] : INT16_MAX;
        if (state != state_due || *found != *due) {{
            return code;
        }}
    }}
    return UINT32_C(65536);
}}

#ifndef DERATE_TABLE_TEST_ONLY
#include <stdio.h>

int main(void)
{{
    int16_t due = 0, found = 0;
    uint32_t code = {name}_first_wrong_code(&due, &found);
    if (code <= UINT32_C(65535)) {{
        printf("{name}: code %lu gives %d, and %d is due\\n", (unsigned long)code, found, due);
        return 1;
    }}
    printf("{name}: all codes give the readings that are due\\n");
    return 0;
}}
#endif
"""


def self_test_text(name: str, table: "ReadingTable", about: Sequence[str] = ()) -> str:
    """The C program that tests a compiled table over every code a converter could give."""
    file_names(name)
    window = table.window
    codes, readings = runs(table)
    ends = ("SHORT", "OPEN") if window.open_is_high else ("OPEN", "SHORT")
    return TEXT.format(
        head=head(f"Self-test of the reading table of {name}", about),
        build=boxed((BUILD.format(name=name),)),
        name=name,
        NAME=name.upper(),
        runs=array("static const uint16_t begins", codes.tolist())
        + array("static const int16_t expected", readings.tolist()),
        count=len(codes),
        low=window.low_code,
        high=window.high_code,
        at_low=ends[0],
        at_high=ends[1],
    )


def runs(table: "ReadingTable") -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First codes of the runs of healthy codes with one reading, and those readings [counts]."""
    from derate.sensing.tables import readings

    codes = np.arange(table.window.low_code + 1, table.window.high_code)
    counts = np.asarray(readings(table, codes))
    begins = np.flatnonzero(np.concatenate(([True], counts[1:] != counts[:-1])))
    return codes[begins], counts[begins]
