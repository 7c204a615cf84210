"""Ends an emulated call that never returns; a core in the emulator cannot be told from outside."""

import threading
import time
import weakref
from typing import Protocol

PATIENCE_S = 5.0
"""A batch of calls takes some milliseconds; one that takes this long will not end."""


class Watched(Protocol):
    """Something whose calls are watched: how many there were, and whether one is going on."""

    calls: int
    going: bool

    def give_up(self) -> None:
        """End the call that is going on; called from another thread."""


def watch(subject: Watched, patience_s: float = PATIENCE_S) -> None:
    """Watch a subject from a thread of its own, as long as the subject lives."""
    kept = weakref.ref(subject)
    threading.Thread(target=_look, args=(kept, patience_s), daemon=True).start()


def _look(kept: "weakref.ref[Watched]", patience_s: float) -> None:
    last = -1
    while (subject := kept()) is not None:
        if subject.going and subject.calls == last:
            subject.give_up()
        last = subject.calls if subject.going else -1
        del subject
        time.sleep(patience_s)
