"""The command of most light, and the highest ambient at which a level of light is safe."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from derate.study.crossing import crossing
from derate.study.derating import COLDEST_C, EXACT_C, HOTTEST_C, light_lm
from derate.study.operating import Operating

Array = NDArray[np.float64]

BELOW, ABOVE = 20, 12
"""Commands that are tried from 0 to 1, and from there to the end of the tables."""
EXACT_COMMAND = 1e-4
LEVELS = (1.0, 0.75, 0.5, 0.25)


@dataclass(frozen=True, eq=False)
class BestCommand:
    """Light against command, at the ambient of the point, limits left aside.

    ``command`` (n): common factor on the full currents of the lamp, up to ``table_end``, the end
    of the emitters' current tables; light [lm] and hottest junction [degC] at each; rows without a
    rest are left out. ``most_lm`` at ``most_at``: beyond it more current gives less light, unless
    ``most_at`` is the end of the range (``falls`` False). ``within_lm`` at ``within_at``: most
    light of commands 0..1.
    """

    command: Array
    light_lm: Array
    junction_c: Array
    table_end: float
    most_at: float
    most_lm: float
    falls: bool
    within_at: float
    within_lm: float


@dataclass(frozen=True)
class SafeAmbient:
    """The highest ambient [degC] at which a level of light is served with all limits held.

    ``level`` [-]: share of the full command, as in a derating curve; ``light_lm`` [lm]: what it
    gives there. Both are nan where no ambient of the derating curve allows it. ``acting``: what
    stops it in a warmer one, as in a derating curve; "" where the hottest one of it is still safe.
    """

    level: float
    light_lm: float
    ambient_c: float
    acting: str


def best_command(lamp: Operating, ambient_c: float) -> BestCommand:
    """Light against command at ``ambient_c`` [degC]."""
    end = _table_end(lamp)
    command = np.linspace(0.0, 1.0, BELOW + 1)
    if end > 1.0 + EXACT_COMMAND:
        command = np.append(command, np.linspace(1.0, end, ABOVE + 1)[1:])
    rests = [lamp.at(float(share), ambient_c) for share in command]
    there = np.array([not rest.runaway for rest in rests])
    command, rests = command[there], [rest for rest in rests if not rest.runaway]
    lights_lm = np.array([rest.light_lm.sum() for rest in rests])
    at = int(np.argmax(lights_lm))
    falls = at + 1 < len(command) and lights_lm[at] > 0.0
    most_at, most_lm = float(command[at]), float(lights_lm[at])
    if falls:
        from scipy.optimize import minimize_scalar

        around = (float(command[max(at - 1, 0)]), float(command[at + 1]))
        found = minimize_scalar(
            lambda share: -light_lm(lamp, float(share), ambient_c),
            bounds=around,
            method="bounded",
            options={"xatol": EXACT_COMMAND},
        )
        if -found.fun > most_lm:
            most_at, most_lm = float(found.x), float(-found.fun)
    within = most_at if most_at <= 1.0 else float(command[command <= 1.0][-1])
    return BestCommand(
        command,
        lights_lm,
        np.array([rest.peak_c[list(lamp.hottest(rest).values())].max() for rest in rests]),
        end,
        most_at,
        most_lm,
        bool(falls),
        within,
        light_lm(lamp, within, ambient_c),
    )


def _table_end(lamp: Operating) -> float:
    """The command at which the first lit channel's emitters come to the end of their table."""
    ends = [
        lamp.lamp.emitters[channel.emitter].current_a[-1] * channel.parallel / channel.current_a
        for channel, part in zip(lamp.lamp.channels.values(), lamp.mix, strict=True)
        if part > 0.0
    ]
    return max(1.0, min(ends))


def safe_ambients(lamp: Operating, ambient_c: float) -> tuple[SafeAmbient, ...]:
    """The highest safe ambient of each level; searched from the cold end of the derating curve."""
    return tuple(_safe_ambient(lamp, level, min(COLDEST_C, ambient_c)) for level in LEVELS)


def _safe_ambient(lamp: Operating, level: float, low_c: float) -> SafeAmbient:
    found = crossing(lambda at_c: lamp.margin_k(level, at_c), low_c, HOTTEST_C, exact=EXACT_C)
    if found is None and lamp.margin_k(level, HOTTEST_C) >= 0.0:
        return SafeAmbient(level, light_lm(lamp, level, HOTTEST_C), HOTTEST_C, "")
    if found is None:
        return SafeAmbient(level, np.nan, np.nan, lamp.acting(level, low_c))
    return SafeAmbient(
        level, light_lm(lamp, level, found[0]), found[0], lamp.acting(level, found[1])
    )
