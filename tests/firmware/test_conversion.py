"""The C turns every code into the reading that the table stands for, bit for bit."""

import pytest

from derate.control.command import OPEN, SHORT
from derate.firmware.host import HostBody
from derate.sensing.chain import chains_of
from derate.sensing.lookup import reading_at
from tests.control.small_lamp import OPEN_LOOP, small_lamp
from tests.firmware.reach import memory_of

NO_READING = -32768


@pytest.mark.parametrize("arrangement", ["pull-up", "pull-down"])
@pytest.mark.parametrize("bits", [10, 12, pytest.param(16, marks=pytest.mark.slow)])
def test_every_code_reads_as_the_table_says(arrangement, bits):
    """All codes of the ADC, and some beyond: the table's reading, or the right fault."""
    lamp = small_lamp(OPEN_LOOP, arrangement=arrangement, bits=bits)
    chain = chains_of(lamp)[0]
    body, window = HostBody(lamp), chain.lookup.window
    for code in (*range(1 << bits), *range(1 << bits, 1 << 16, 1021), 65535):
        body.start()
        status = body.step([code], [0, 0]).status
        actual = memory_of(body).reading_centi_c[0]
        if window.low_code < code < window.high_code:
            assert actual == reading_at.py_func(chain.lookup.knots, chain.lookup.centi_c, code)
            assert not status & (OPEN | SHORT)
        else:
            assert actual == NO_READING
            is_open = (code >= window.high_code) == window.open_is_high
            assert status & (OPEN | SHORT) == (OPEN if is_open else SHORT)


def test_both_sensors_are_read_by_their_own_table():
    """The second sensor's reading is the second table's, and the hottest counts."""
    lamp = small_lamp(sensors=2)
    body, (first, second) = HostBody(lamp), chains_of(lamp)
    codes = [first.ideal_code(40.0), second.ideal_code(60.0)]
    limit_q15 = body.step(codes, [0, 0]).limit_q15
    pairs = zip((first, second), codes, strict=True)
    desired = [round(chain.reading_c(code) * 100) for chain, code in pairs]
    assert list(memory_of(body).reading_centi_c) == desired
    single = HostBody(small_lamp())
    assert single.step([codes[1]], [0, 0]).limit_q15 == limit_q15
