"""Work shared out to processes of this machine."""

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

from derate.errors import SurroundingsError

Task = TypeVar("Task")
Found = TypeVar("Found")


def shared_out(
    work: Callable[[Task], Found], tasks: Sequence[Task], workers: int | None = None
) -> Iterator[Found]:
    """The result of each task, in order; in as many processes as there are cores by default.

    One worker is this process. Raises SurroundingsError when the others are lost.
    """
    many = min(workers or os.cpu_count() or 1, len(tasks))
    if many <= 1:
        yield from map(work, tasks)
        return
    # threads of compiled code do not survive a fork
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(many, context, initializer=_leave_interrupt_to_the_parent)
    try:
        yield from pool.map(work, tasks)
    except BrokenProcessPool:
        raise SurroundingsError("the worker processes end before their time") from None
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _leave_interrupt_to_the_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
