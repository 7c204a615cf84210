"""Histories drawn and steered by hypothesis towards less margin."""

from collections.abc import Sequence

import hypothesis
from hypothesis import HealthCheck, Phase, settings

from derate.limits.history import History
from derate.limits.space import Place
from derate.limits.strategies import histories
from derate.limits.trials import EnoughError, Trials


def hypothesise(trials: Trials, surroundings: Sequence[Place], *, examples: int, seed: int) -> None:
    """Draw so many histories, each chosen with an eye on the margins of those before.

    What is found is in ``trials``. Raises EnoughError when the search is over.
    """

    @hypothesis.seed(seed)
    @settings(
        max_examples=examples,
        database=None,
        deadline=None,
        derandomize=False,
        phases=(Phase.generate, Phase.target),
        suppress_health_check=list(HealthCheck),
        verbosity=hypothesis.Verbosity.quiet,
    )
    @hypothesis.given(histories(trials.space))
    def look(history: History) -> None:
        if not trials.over():
            (tried,) = trials.run("hypothesis", [history], surroundings)
            hypothesis.target(-tried.worst.margin_k, label="margin")
            hypothesis.target(max(one.step for one in tried.findings), label="step")
            hypothesis.target(max(float(one.turns) for one in tried.findings), label="turns")

    look()
    if trials.over():
        raise EnoughError
