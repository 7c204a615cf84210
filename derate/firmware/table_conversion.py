"""The integer arithmetic in C by which each kind of table turns a healthy code into counts.

Between two values, with // the division that rounds towards minus infinity, as the tables of the
sensing room do it:

    counts = from + (2 (to - from) past + span) // (2 span)

``past`` codes of ``span`` have gone by. In C the division works on whole numbers from zero up, and
32 bits hold every product.
"""

from typing import TYPE_CHECKING

import numpy as np

from derate.errors import InputError
from derate.firmware.c_text import array

if TYPE_CHECKING:
    from derate.sensing.tables import ReadingTable

PRODUCT_LIMIT = 2**32

BETWEEN = """\
/* from + (2 (to - from) past + span) / (2 span), rounded towards minus infinity. */
static int16_t between(int16_t from, int16_t to, uint16_t past, uint16_t span)
{
    uint32_t twice = 2u * (uint32_t)span;
    if (to > from) {
        uint32_t rise = (uint32_t)((int32_t)to - from);
        return (int16_t)(from + (int32_t)((2u * rise * past + span) / twice));
    } else {
        uint32_t fall = (uint32_t)((int32_t)from - to);
        return (int16_t)(from - (int32_t)((2u * fall * past + span - 1u) / twice));
    }
}
"""

SEARCH = """\
/* The segment that holds a code between the outer knots: codes[low] <= code < codes[low + 1]. */
static uint16_t segment(uint16_t code)
{
    uint16_t low = 0u;
    uint16_t high = KNOTS - 1u;
    while (low + 1u < high) {
        uint16_t middle = (uint16_t)(low + (high - low) / 2u);
        if (CODE(middle) <= code) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}
"""

PLACED = """\
static int16_t counts(uint16_t code)
{
    uint16_t at, first;
    if (code <= CODE(0)) {
        return VALUE(0);
    }
    if (code >= CODE(KNOTS - 1u)) {
        return VALUE(KNOTS - 1u);
    }
    at = segment(code);
    first = CODE(at);
    return between(VALUE(at), VALUE(at + 1u), (uint16_t)(code - first),
                   (uint16_t)(CODE(at + 1u) - first));
}
"""

EVEN = """\
static int16_t counts(uint16_t code)
{
    uint16_t past, at;
    if (code <= FIRST_CODE) {
        return VALUE(0);
    }
    past = (uint16_t)(code - FIRST_CODE);
    at = (uint16_t)(past >> SHIFT);
    if (at >= KNOTS - 1u) {
        return VALUE(KNOTS - 1u);
    }
    past = (uint16_t)(past & ((1u << SHIFT) - 1u));
    return between(VALUE(at), VALUE(at + 1u), past, (uint16_t)(1u << SHIFT));
}
"""

DIRECT = """\
static int16_t counts(uint16_t code)
{
    uint16_t at;
    if (code <= FIRST_CODE) {
        return VALUE(0);
    }
    at = (uint16_t)(code - FIRST_CODE);
    return at < KNOTS ? VALUE(at) : VALUE(KNOTS - 1u);
}
"""

BRACE = "    uint16_t at, first;\n"
FINER = "    code = (uint16_t)((uint32_t)code << SHIFT); /* knots stand at 16 bits */\n"
READ_CODE = "#define CODE(i) ((uint16_t)DERATE_TABLE_READ(&codes[i]))\n"
READ_VALUE = "#define VALUE(i) ((int16_t)DERATE_TABLE_READ(&values[i]))\n"
CODES, VALUES = (
    f"static DERATE_TABLE_CONST {kind}" for kind in ("uint16_t codes", "int16_t values")
)


def conversion(table: "ReadingTable") -> str:
    """Constants and the function ``counts(code)`` for a healthy code, in C.

    Raises InputError when a product would not fit 32 bits.
    """
    _fits(table)
    knots = len(table.values)
    sizes = f"#define KNOTS {knots}u\n"
    first = f"#define FIRST_CODE {table.first_code}u\n"
    if table.kind == "placed knots":
        data = array(CODES, table.codes.tolist()) + array(VALUES, table.values.tolist())
        return "\n".join((sizes + READ_CODE + READ_VALUE, data, BETWEEN, SEARCH, PLACED))
    if table.kind == "temperature steps":
        data = array(CODES, table.codes.tolist())
        finer = PLACED.replace(BRACE, f"{BRACE}{FINER}" if table.shift else BRACE)
        constants = sizes + f"#define SHIFT {table.shift}u\n" * (table.shift > 0)
        return "\n".join((constants + READ_CODE + _steps(table), data, BETWEEN, SEARCH, finer))
    data = array(VALUES, table.values.tolist())
    if table.kind == "code steps":
        shift = f"#define SHIFT {table.shift}u\n"
        return "\n".join((sizes + first + shift + READ_VALUE, data, BETWEEN, EVEN))
    if table.kind == "direct":
        return "\n".join((sizes + first + READ_VALUE, data, DIRECT))
    raise ValueError(f"no C is known for a table of {table.kind}")


def _steps(table: "ReadingTable") -> str:
    """VALUE(i) of evenly spaced readings, computed instead of stored."""
    first = int(table.values[0])
    step = int(table.values[1]) - first
    signed = f"INT32_C({abs(step)}) * (int32_t)(i)"
    return f"#define VALUE(i) ((int16_t)(INT32_C({first}) {'-' if step < 0 else '+'} {signed}))\n"


def _fits(table: "ReadingTable") -> None:
    if table.kind == "direct":
        return
    rise = np.abs(np.diff(np.asarray(table.values, np.int64)))
    span = 1 << table.shift
    spans = np.diff(np.asarray(table.codes, np.int64)) if len(table.codes) else np.full(1, span)
    if np.max(2 * rise * spans + spans) >= PRODUCT_LIMIT:
        raise InputError(
            f"a segment of the table rises by {np.max(rise)} counts, too much for the arithmetic of"
            " 32 bits; a smaller error or a coarser scale is due"
        )
