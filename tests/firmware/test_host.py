"""The C body as Python sees it: reentrant, its state in the caller's hands."""

import ctypes

import numpy as np
import pytest

from derate.firmware.host import HostBody
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, small_lamp
from tests.firmware.reach import Memory, walk

STATE_BYTES = 40
"""Memory of one controller."""


def test_the_state_is_small_and_known():
    """40 bytes, laid out as the header says."""
    assert HostBody(small_lamp()).state_size == STATE_BYTES == ctypes.sizeof(Memory)


def test_two_controllers_do_not_meet():
    """The same library serves two bodies; the steps of one do not show in the other."""
    lamp = small_lamp(FOLDBACK, filter_shift=4, release="0.5 1/s")
    alone, one, other = HostBody(lamp), HostBody(lamp), HostBody(lamp)
    for (codes, requests), (others, _) in zip(walk(1, 3000, 1), walk(2, 3000, 1), strict=True):
        other.step(others, requests)
        assert one.step(codes, requests) == alone.step(codes, requests)


def test_a_saved_state_goes_on_where_it_was():
    """State taken out and put into another body continues the same walk."""
    lamp = small_lamp(FOLDBACK, filter_shift=4, release="0.5 1/s")
    first, second = HostBody(lamp), HostBody(lamp)
    samples = list(walk(5, 2000, 1))
    for codes, requests in samples[:1000]:
        first.step(codes, requests)
    second.state = first.state
    for codes, requests in samples[1000:]:
        assert first.step(codes, requests) == second.step(codes, requests)


def test_a_function_address_can_be_called():
    """The address of controller_step, for compiled callers, is the function itself."""
    body = HostBody(small_lamp())
    size = ctypes.CFUNCTYPE(ctypes.c_uint16)(body.function_address("controller_size"))
    assert size() == body.state_size


def test_wrong_counts_are_refused():
    """A code or request too few is the caller's mistake."""
    body = HostBody(small_lamp(sensors=2))
    with pytest.raises(ValueError, match="due 2 codes and 2 requests"):
        body.step([2000], [1, 1])
    with pytest.raises(ValueError, match="due 40 bytes"):
        body.state = b""


def test_arrays_and_lists_are_the_same():
    """Codes and requests may be lists or arrays."""
    lamp = small_lamp()
    body, chain = HostBody(lamp), chains_of(lamp)[0]
    codes, requests = [chain.ideal_code(62.0)], [32768, 12345]
    arrays = [np.array(codes, np.uint16), np.array(requests, np.uint16)]
    assert body.step(codes, requests) == body.step(*arrays)
