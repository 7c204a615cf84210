"""The command ``derate tune``: the settings of a lamp's policy, searched for."""

import argparse
import dataclasses
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from derate import progress
from derate.interrupt import held
from derate.telling import (
    EXCEEDED,
    HELD,
    command_line,
    naming,
    prepared,
    show,
    tell,
    tell_of_compiling,
)

if TYPE_CHECKING:
    from derate.lamp import Lamp, Profile
    from derate.study.tune import Tuning


def tune(given: argparse.Namespace) -> int:
    """Find the policy settings that give the most light with every limit held."""
    folder = prepared(given.out)
    from derate.errors import InputError
    from derate.lamp import load, profile_of
    from derate.lamp.controller import Custom

    lamp = load(given.lamp)
    profiles = dict(profile_of(lamp, asked) for asked in given.profile or lamp.profiles or [None])
    if given.header and isinstance(lamp.controller.policy, Custom):
        found = f'controller.policy.kind: found "{lamp.controller.policy.kind}"'
        raise InputError(f"{given.lamp}: {found}, due a policy that the C has, for --header")
    tell(f"tuning {given.lamp} for {', '.join(profiles)}")
    with held() as stop:
        tuning = _tuned(given, lamp, profiles, stop)
        from derate.report.tune_files import write
        from derate.report.tune_summary import to_json
        from derate.report.tune_terminal import print_tuning

        for sentence in write(tuning, folder, given.header, into=given.write):
            tell(sentence)
        show(tuning, to_json, print_tuning, as_json=given.json)
    return HELD if tuning.holds else EXCEEDED


def _tuned(
    given: argparse.Namespace,
    lamp: "Lamp",
    profiles: "Mapping[str, Profile]",
    stop: Callable[[], bool],
) -> "Tuning":
    """The tuning that the options ask for, with the command line in its source."""
    tell_of_compiling()
    from derate.loop.controllers import interpreted_because

    if reason := interpreted_because(lamp):
        tell(f"{reason}, so each step of it is called by the interpreter: fewer settings are tried")
    from derate.report.tune_memory import remembered
    from derate.study.tune import Wanted
    from derate.study.tune import tune as tuned

    wanted = Wanted(
        guard_k=given.guard,
        step=given.step,
        fall=given.fall,
        least_light=given.least_light,
        keep=given.keep,
        corners=given.corners,
        budget_s=given.budget,
        seed=given.seed,
    )
    with naming(given.lamp), progress.shown() as doing:
        memory = remembered(lamp, profiles, wanted, given.resume)
        found = tuned(lamp, profiles, wanted, memory=memory, doing=doing, stop=stop)
    return dataclasses.replace(found, source={**found.source, "command": command_line(given)})
