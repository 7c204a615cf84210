"""Ctrl-C at a safe place: raised anywhere, it may fall into a library's callback and be lost."""

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

ANSWER = b"derate: stopping; once more stops at once\n"
MOST_WRAPPED = 20
"""Errors that wrap each other are followed so far."""


@contextmanager
def held() -> Iterator[Callable[[], bool]]:
    """Within, a first Ctrl-C only makes the function that is given true; a second acts as ever.

    The first is answered on standard error, as compiling may keep it waiting.

    Raises KeyboardInterrupt at the end if the first was not acted on.
    """
    asked = False
    usual = signal.getsignal(signal.SIGINT)
    if usual is not signal.default_int_handler or not _is_main_thread():
        yield lambda: False
        return

    def note(*_: object) -> None:
        nonlocal asked
        asked = True
        signal.signal(signal.SIGINT, usual)
        with suppress(OSError):
            os.write(2, ANSWER)  # print might be just at work and cannot be entered twice

    signal.signal(signal.SIGINT, note)
    try:
        yield lambda: asked
    except Exception:
        if not asked:
            raise  # else it came of the interrupt, as when a compiler is interrupted too
    finally:
        signal.signal(signal.SIGINT, usual)
    if asked:
        raise KeyboardInterrupt


def is_interrupt(error: BaseException) -> bool:
    """Whether an error came of Ctrl-C, as when it falls into a library that wraps what it meets."""
    seen: BaseException | None = error
    for _ in range(MOST_WRAPPED):
        if seen is None or isinstance(seen, KeyboardInterrupt):
            break
        seen = seen.__cause__ or seen.__context__
    return isinstance(seen, KeyboardInterrupt)


def _is_main_thread() -> bool:
    return threading.current_thread() is threading.main_thread()
