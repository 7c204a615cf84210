"""What a tuning has tried, as plain values that a file can hold, to go on from another day.

A search is a function of its seed and of the figures of what it tries. So nothing else need be
kept: with the figures at hand it goes the same way again at once, to where it was left.
"""

import dataclasses
import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Any

from derate import __version__
from derate.errors import InputError
from derate.lamp.lamp import Lamp
from derate.lamp.profile import Profile
from derate.study.tune_space import Settings
from derate.study.tune_trial import Figures
from derate.study.tune_visibility import Seen

FORM = "derate tune 2"


class Memory:
    """Figures by the name of the trials and the settings, and how long each search was.

    ``inputs``: hash of all that the figures depend on; ``phases``: generations of each search that
    came to its end; ``cut``: what each one that was cut short had tried by then; ``seconds``: time
    spent; ``write``: called with plain values to be kept.
    """

    def __init__(
        self,
        inputs: str,
        budget_s: float,
        write: Callable[[dict[str, Any]], object] = lambda plain: None,
    ) -> None:
        self.inputs, self.budget_s, self.write = inputs, budget_s, write
        self.seconds = 0.0
        self.phases: dict[str, int] = {}
        self.cut: dict[str, list[tuple[int, bool]]] = {}
        self._known: dict[str, dict[Settings, Figures]] = {}

    def known(self, trials: str) -> dict[Settings, Figures]:
        """What is known of some trials; what is put in is kept with the rest."""
        return self._known.setdefault(trials, {})

    def keep(self, seconds: float) -> None:
        """Keep all that is known by now, ``seconds`` [s] of work in all."""
        self.seconds = seconds
        self.write(self.plain())

    def plain(self) -> dict[str, Any]:
        """All of it as plain values."""
        return {
            "form": FORM,
            "version": __version__,
            "inputs_sha256": self.inputs,
            "budget_s": self.budget_s,
            "seconds": self.seconds,
            "phases": self.phases,
            "cut": self.cut,
            "known": {
                name: [
                    [list(map(list, settings)), _plain(figures)] for settings, figures in of.items()
                ]
                for name, of in self._known.items()
            },
        }

    def recall(self, plain: object, title: str) -> None:
        """Take up what was kept in the file ``title``; with another budget, figures alone.

        Raises InputError where it is something else, or of another lamp, profile or question.
        """
        if not isinstance(plain, dict) or plain.get("form") != FORM:
            raise InputError(f"{title}: found something else, due a file that --resume wrote")
        if plain.get("inputs_sha256") != self.inputs:
            found = "a search for another lamp, profile or question"
            raise InputError(f"{title}: found {found}, due one for these; or another file name")
        try:
            for name, of in plain["known"].items():
                known = self.known(name)
                for settings, figures in of:
                    known[tuple((key, said) for key, said in settings)] = _figures(figures)
            if plain["budget_s"] == self.budget_s:
                self.phases = {str(name): int(count) for name, count in plain["phases"].items()}
                self.cut = {
                    str(name): [(int(place), bool(looked)) for place, looked in marked]
                    for name, marked in plain["cut"].items()
                }
                self.seconds = float(plain["seconds"])
        except (KeyError, TypeError, ValueError, AttributeError):
            found = "a file that was changed by hand or cut short"
            raise InputError(f"{title}: found {found}, due one as --resume wrote it") from None


def hash_of(lamp: Lamp, profiles: Mapping[str, Profile], wanted: object) -> str:
    """Hash of a lamp, its profiles and what is asked, the time for it excepted."""
    asked = dataclasses.asdict(wanted)  # type: ignore[call-overload]
    asked.pop("budget_s")
    values = [
        __version__,
        lamp.model_dump(mode="json"),
        {name: profile.model_dump(mode="json") for name, profile in profiles.items()},
        asked,
    ]
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()


def _plain(figures: Figures) -> list[Any]:
    seen = figures.seen
    return [figures.margin_k, figures.light, None if seen is None else dataclasses.astuple(seen)]


def _figures(plain: Any) -> Figures:
    margin_k, light, seen = plain
    return Figures(float(margin_k), float(light), None if seen is None else Seen(*seen))
