"""A first Ctrl-C waits for a safe place, a second does not."""

import ctypes
import os
import signal

import pytest

from derate.errors import SurroundingsError
from derate.interrupt import ANSWER, held


def interrupted():
    """Ctrl-C, as the terminal sends it."""
    os.kill(os.getpid(), signal.SIGINT)


def test_the_first_is_only_noted():
    """Within, work goes on until it asks; at the end the interrupt acts."""
    seen = []

    def work():
        with held() as stop:
            seen.append(stop())
            interrupted()
            seen.append(stop())

    with pytest.raises(KeyboardInterrupt):
        work()
    assert seen == [False, True]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_the_second_acts_at_once():
    """Who cannot wait presses again."""
    seen = []

    def work():
        with held():
            interrupted()
            seen.append("after the first")
            interrupted()
            seen.append("after the second")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert seen == ["after the first"]


def test_a_callback_cannot_swallow_it():
    """Within a callback from C, where an exception would be printed and lost, it is kept."""
    called = ctypes.CFUNCTYPE(None)(interrupted)

    def work():
        with held() as stop:
            called()
            assert stop()

    with pytest.raises(KeyboardInterrupt):
        work()


def test_what_an_interrupt_breaks_counts_as_interrupted():
    """A compiler that the same Ctrl-C ends is no failure of its own; without Ctrl-C it is."""

    def work(press):
        with held():
            if press:
                interrupted()
            raise SurroundingsError("the compiler failed")

    with pytest.raises(KeyboardInterrupt):
        work(True)
    with pytest.raises(SurroundingsError, match="the compiler failed"):
        work(False)


def test_an_ignored_interrupt_stays_ignored():
    """A job started to ignore Ctrl-C goes on ignoring it."""
    usual = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with held() as stop:
            interrupted()
            assert not stop()
    finally:
        signal.signal(signal.SIGINT, usual)


def test_the_first_is_answered(capfd):
    """Who presses once learns that the program stops, and how to stop it at once."""

    def work():
        with held():
            interrupted()

    with pytest.raises(KeyboardInterrupt):
        work()
    assert capfd.readouterr().err.encode() == ANSWER
