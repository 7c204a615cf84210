"""A reading table as C: a header, a source and a self-test that need nothing but <stdint.h>.

The same table gives the same bytes. ``about`` are the lines that say where the table comes from;
they stand in the comment on top of every file.
"""

import re
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from derate import __version__
from derate.errors import InputError, printable
from derate.firmware.c_text import comment
from derate.firmware.table_conversion import conversion

if TYPE_CHECKING:
    from derate.sensing.tables import ReadingTable
    from derate.sensing.threshold import Threshold

TEXT_WIDTH = 92
NAME = re.compile("[A-Za-z][A-Za-z0-9_]{0,62}")
"""What may stand in front of names in C, and of names of files."""
CAUTION = (
    "CAUTION: a limit in firmware does not replace an independent hardware cut-out where failure"
    " can hurt; intense light injures eyes, hot metal burns. Measure before trusting."
)
HARVARD = (
    "Where constants need a place or a read of their own, define both before compiling:"
    " DERATE_TABLE_CONST stands in front of the type of every array, and DERATE_TABLE_READ(place)"
    " gives what is stored at the address `place`. For example"
    " -D'DERATE_TABLE_CONST=const __flash'."
)
FAULTS = (
    "The result says whether the code is a reading; look at it first. On a fault *reading is"
    " INT16_MAX, the hottest there is, so that firmware that forgets to look throttles and does"
    " not drive on. Beyond the ends of the table the reading stays at the last value."
)

HEADER = """\
{head}
#ifndef {NAME}_READING_H
#define {NAME}_READING_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {{
#endif

{scale}
#define {NAME}_COUNTS_PER_KELVIN {scale_value}
/* A temperature in degC as a reading: {NAME}_DEGC(85); beyond an int16_t it is its nearest end. */
#define {NAME}_DEGC(celsius) \\
    ((int16_t)((celsius) * INT64_C({scale_value}) > INT16_MAX ? INT16_MAX \\
               : (celsius) * INT64_C({scale_value}) < INT16_MIN ? INT16_MIN \\
               : (celsius) * INT64_C({scale_value})))

{faults}
enum {name}_state {{ {NAME}_HEALTHY = 0, {NAME}_OPEN = 1, {NAME}_SHORT = 2 }};

enum {name}_state {name}_reading(uint16_t code, int16_t *reading);
{limit}
#ifdef __cplusplus
}}
#endif

#endif
"""

LIMIT = """
{about}
#define {NAME}_HOT_CODE {hot}u
#define {NAME}_OPEN_CODE {open}u
static inline int {name}_too_hot(uint16_t code)
{{
    return code {hot_side} {NAME}_HOT_CODE || code {open_side} {NAME}_OPEN_CODE;
}}
"""

SOURCE = """\
{head}
#include "{name}_reading.h"

{harvard}
#ifndef DERATE_TABLE_CONST
#define DERATE_TABLE_CONST const
#endif
#ifndef DERATE_TABLE_READ
#define DERATE_TABLE_READ(place) (*(place))
#endif

{conversion}
enum {name}_state {name}_reading(uint16_t code, int16_t *reading)
{{
    *reading = INT16_MAX;
    if (code <= {low}u) {{
        return {NAME}_{at_low};
    }}
    if (code >= {high}u) {{
        return {NAME}_{at_high};
    }}
    *reading = counts(code);
    return {NAME}_HEALTHY;
}}
"""


def file_names(name: str) -> tuple[str, str, str]:
    """Names of the header, the source and the self-test of a sensor called ``name``.

    Raises InputError when it can be no name in C.
    """
    if not NAME.fullmatch(name):
        raise InputError(
            f'found the name "{printable(name[:63])}", due one for C: a letter, then letters,'
            " digits or _, at most 63 in all"
        )
    return f"{name}_reading.h", f"{name}_reading.c", f"{name}_reading_test.c"


def header_text(
    name: str,
    table: "ReadingTable",
    about: Sequence[str] = (),
    limit: "Threshold | None" = None,
) -> str:
    """The C header: state, scale, the function that reads, and whether a code is too hot."""
    file_names(name)
    kind = f"Readings are whole counts of 1/{table.scale} degC."
    return HEADER.format(
        head=head(f"How the firmware reads {name}", about),
        name=name,
        NAME=name.upper(),
        scale=boxed((kind,)),
        scale_value=table.scale,
        faults=boxed((FAULTS,)),
        limit="" if limit is None else _limit(name, limit),
    )


def _limit(name: str, limit: "Threshold") -> str:
    """The comparison with a threshold, in C that needs no table."""
    about = (
        f"True from {limit.celsius:g} degC up as an ideal chain reads, and for every code of a"
        " shorted or an open thermistor; needs the header only."
        " Keep a distance between off and on again."
    )
    return LIMIT.format(
        name=name,
        NAME=name.upper(),
        about=boxed((about,)),
        hot=limit.code,
        hot_side=limit.direction,
        open=limit.open_code,
        open_side=limit.open_direction,
    )


def source_text(name: str, table: "ReadingTable", about: Sequence[str] = ()) -> str:
    """The C source: the table and the conversion.

    Raises InputError when the arithmetic does not fit 32 bits.
    """
    file_names(name)
    window = table.window
    ends = ("SHORT", "OPEN") if window.open_is_high else ("OPEN", "SHORT")
    return SOURCE.format(
        head=head(f"The reading table of {name}", about),
        name=name,
        NAME=name.upper(),
        harvard=boxed((HARVARD,)),
        conversion=conversion(table),
        low=window.low_code,
        high=window.high_code,
        at_low=ends[0],
        at_high=ends[1],
    )


def head(title: str, about: Sequence[str]) -> str:
    """The comment on top of a file: what it is, what made it, where it comes from, cautions."""
    made = f"Generated by derate {__version__}; do not edit, generate anew."
    return boxed((title + ".", made, *about, CAUTION))


def boxed(paragraphs: Sequence[str]) -> str:
    """Paragraphs as one C comment."""
    lines = [
        line
        for paragraph in paragraphs
        for line in textwrap.wrap(comment(paragraph), TEXT_WIDTH, subsequent_indent="  ")
    ]
    if len(paragraphs) == 1:
        lines = [line.strip() for line in lines]
    return "/* " + "\n * ".join(lines) + " */"
