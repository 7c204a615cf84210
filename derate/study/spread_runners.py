"""Who runs the units: this process, others on this machine, or the workers of a cluster.

A unit is the same wherever it runs. A worker that is lost costs the shares it had in hand, which
are run again.
"""

import functools
import importlib
import multiprocessing
import pickle
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool

import derate
from derate.errors import InputError, SurroundingsError
from derate.loop.controllers import interpreted_because
from derate.study.spread_units import Figures, Job, Units

Runner = Callable[[Job, int], Iterator[Figures]]
"""(job, how many units) -> figures of each share, in any order."""
CLUSTER_TIMEOUT_S = 10.0
SLOW_SHARE = 8
"""Units that are run before it is told how far we are, where controllers run in the interpreter."""
MOST_LOST = 5
"""Times that workers may be lost while no share is finished."""


def here(job: Job, count: int) -> Iterator[Figures]:
    """Run the shares one after the other in this process, its threads together at each."""
    units = Units(job)
    return (units.figures(share) for share in _shares(job, count))


def on_processes(workers: int) -> Runner:
    """Run the shares in ``workers`` processes of this machine.

    Raises SurroundingsError when they are lost again and again.
    """

    def run(job: Job, count: int) -> Iterator[Figures]:
        packed, left, lost = pickle.dumps(job), _shares(job, count), 0
        while left:
            pool = _pool(min(workers, len(left)))
            try:
                futures = {pool.submit(figures_of, packed, share): share for share in left}
                for future in as_completed(futures):
                    found = future.result()
                    left.remove(futures[future])
                    lost = 0
                    yield found
            except BrokenProcessPool:
                lost += 1
                if lost > MOST_LOST:
                    raise SurroundingsError("the worker processes end before their time") from None
            finally:
                pool.shutdown(wait=False, cancel_futures=True)

    return run


def figures_of(packed: bytes, units: range, version: str = derate.__version__) -> Figures:
    """One share, as a worker runs it; raises SurroundingsError on another version's request."""
    if version != derate.__version__:
        raise SurroundingsError(f"a worker has derate {derate.__version__}, due {version}")
    return _ready(packed).figures(units)


@functools.lru_cache(maxsize=1)
def _ready(packed: bytes) -> Units:
    """The job of a worker, made ready at its first share."""
    return Units(pickle.loads(packed), threads=1)


def _shares(job: Job, count: int) -> list[range]:
    share = SLOW_SHARE if interpreted_because(job.lamp) else Units.share
    return [range(i, min(i + share, count)) for i in range(0, count, share)]


def _pool(workers: int) -> ProcessPoolExecutor:
    # threads of compiled code do not survive a fork
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, context, initializer=_leave_interrupt_to_the_parent)


def _leave_interrupt_to_the_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def on_cluster(address: str) -> Runner:
    """Run the shares on the workers of the Dask scheduler at ``address``.

    Raises SurroundingsError where nothing answers there or all workers are lost, InputError
    without the package that speaks to it.
    """

    def run(job: Job, count: int) -> Iterator[Figures]:
        try:
            distributed = importlib.import_module("distributed")
        except ImportError:
            due = "the package distributed, which `pip install 'derate[cluster]'` brings"
            raise InputError(
                f"--cluster {address}: found no way to speak to it, due {due}"
            ) from None
        try:
            client = distributed.Client(address, timeout=CLUSTER_TIMEOUT_S)
        except (OSError, ValueError, TimeoutError) as error:
            raise SurroundingsError(f"--cluster {address}: no scheduler answers there") from error
        with client:
            packed = pickle.dumps(job)
            futures = [
                client.submit(figures_of, packed, share, derate.__version__, pure=False)
                for share in _shares(job, count)
            ]
            try:
                for _, found in distributed.as_completed(futures, with_results=True):
                    yield found
            except distributed.KilledWorker as error:
                raise SurroundingsError(f"--cluster {address}: its workers end early") from error
            finally:
                client.cancel(futures)

    return run
