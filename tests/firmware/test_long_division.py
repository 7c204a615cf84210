"""The division for cores that do not divide gives what the processor's own gives."""

import ctypes
import itertools

import numpy as np
import pytest

from derate.firmware.build import FLAGS, build_library
from derate.firmware.host import HostBody
from derate.firmware.sources import sources_of
from derate.sensing.chain import chains_of
from tests.control.small_lamp import FOLDBACK, PREDICTIVE, small_lamp

LONG = (*FLAGS, "-DDERATE_LONG_DIVISION")
MOST = 65535
BELOW = 2**31


def library(lamp):
    """The lamp's controller with the long division."""
    sources = sources_of(lamp, chains_of(lamp))
    return build_library(sources.files, sources.headers, flags=LONG, key_text=sources.key_text)


def test_quotients_are_exact():
    """At every rail, one beside it, and for drawn numbers: the quotient rounded down."""
    ratio = ctypes.CDLL(str(library(small_lamp()))).derate_ratio
    ratio.argtypes, ratio.restype = [ctypes.c_uint32] * 2, ctypes.c_uint16
    random = np.random.default_rng(5)
    some = [1, 2, 3, 7, 255, 256, 32767, 32768, 32769, 65534, MOST]
    divisors = [*some, *random.integers(1, MOST + 1, 200).tolist()]
    quotients = [0, *some, *random.integers(0, MOST + 1, 40).tolist()]
    tried = 0
    for divisor, quotient in itertools.product(divisors, quotients):
        for rest in {0, divisor // 2, divisor - 1}:
            numerator = divisor * quotient + rest
            if numerator < BELOW:
                assert ratio(numerator, divisor) == quotient, (numerator, divisor)
                tried += 1
    assert tried > 10_000


@pytest.mark.parametrize("policy", [FOLDBACK, PREDICTIVE], ids=["foldback", "predictive"])
@pytest.mark.parametrize("arrangement", ["pull-up", "pull-down"])
def test_every_code_is_answered_alike(policy, arrangement):
    """Both builds command the same for every code, for tables that rise and that fall."""
    lamp = small_lamp(policy, arrangement=arrangement)
    one, other = HostBody(lamp), HostBody(lamp, library=library(lamp))
    for code in range(4096):
        assert one.step([code], [32768, 20000]) == other.step([code], [32768, 20000])
