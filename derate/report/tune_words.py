"""A tuning told in a few sentences and rows, for the terminal, the page and machines."""

from typing import TYPE_CHECKING, NamedTuple

from derate.firmware.quantise import controller_fields, levels_of, policy_fields
from derate.lamp.controller import Custom
from derate.lamp.variation import variations
from derate.report.words import figures, number, percent
from derate.study.tune_front import Tried, thinned
from derate.study.tune_space import NUDGES, POLICY, name_of, written
from derate.study.tune_visibility import JUST_NOTICEABLE

if TYPE_CHECKING:
    from derate.firmware.quantise import Field
    from derate.lamp.lamp import Lamp
    from derate.study.tune import Tuning
    from derate.study.tune_front import Swing
    from derate.study.tune_visibility import Seen

FLAT_LIGHT, FLAT_K = 0.005, 0.3
"""A setting on which less light [-] and less margin [K] hangs than this need not be exact."""
MOST_ROWS = 6
"""Of a trade-off told in a table."""
SHOWN_K = 3.0
"""Settings this far past the guard are still worth telling in a trade-off."""


class SettingRow(NamedTuple):
    """One setting: what the lamp has, what is recommended, what the header holds, what hangs on it.

    ``step``: how far it was moved, ``light`` [-], ``margin_k`` [K], ``seen`` [-]: the most that
    costs in light and margin, the largest step then seen; None where it was not moved.
    """

    name: str
    key: str
    present: str
    tuned: str
    header: str
    step: str
    light: float | None
    margin_k: float | None
    seen: float | None

    @property
    def flat(self) -> bool:
        """Whether it need not be exact."""
        return (
            self.light is not None
            and self.margin_k is not None
            and self.light < FLAT_LIGHT
            and self.margin_k < FLAT_K
        )


def setting_rows(tuning: "Tuning") -> list[SettingRow]:
    """Every setting that was searched."""
    firmware = tuning.firmware
    if tuning.chosen is None or firmware is None:
        return []
    swings = {swing.key: swing for swing in tuning.swings}
    held = _header(firmware)
    found = []
    for key, said in tuning.chosen.settings:
        dial = next(one for one in tuning.space.dials if one.key == key)
        present = tuning.space.present[key]
        now = "none" if present is None else written(dial.sort, present, tuning.space.period_s)
        nudge = NUDGES[dial.sort]
        step = f"x {nudge.factor:g}" if nudge.factor != 1.0 else _by(nudge.step, said)
        swing = swings.get(key)
        found.append(
            SettingRow(
                name_of(key), key, str(now), str(said), held.get(key, ""), step,
                *((None, None, None) if swing is None else _costs(swing)),
            )
        )  # fmt: skip
    return found


def _by(step: float, said: str | int) -> str:
    """A step in the unit of what the file says."""
    unit = str(said).partition(" ")[2].replace("degC", "K")
    return f"{100.0 * step if unit == '%' else step:g} {unit}".strip()


def _costs(swing: "Swing") -> tuple[float, float, float]:
    beside = swing.figures[max(0, swing.at - 1) : swing.at + 2]
    return swing.light, swing.margin_k, max(one.seen.step if one.seen else 0.0 for one in beside)


def _header(firmware: "Lamp") -> dict[str, str]:
    """The words of the header by the key of the lamp file; none where there is no C."""
    found: dict[str, str] = {}
    if isinstance(firmware.controller.policy, Custom):
        return found
    for i, level in enumerate(levels_of(firmware)):
        for name, field in zip(("at", "limit"), level, strict=True):
            found[f"{POLICY}.levels.{i}.{name}"] = f"{field.name} = {field.value}"
    for prefix, fields in ((POLICY, policy_fields(firmware)),
                           ("controller", controller_fields(firmware))):  # fmt: skip
        for field in fields:
            key = f"{prefix}.{_key(field)}"
            one = f"{field.name} = {field.value}"
            found[key] = f"{found[key]}, {one}" if key in found else one
    return found


def _key(field: "Field") -> str:
    """The key of a field: "start" of start_centi_c, "integral" of integral_gain.mantissa."""
    name = field.name.partition(".")[0]
    for ending in ("_centi_c", "_centi_k", "_q15", "_q31", "_steps", "_gain"):
        name = name.removesuffix(ending)
    return name


class TradeRow(NamedTuple):
    """One way of trading: light [-], margin [K], largest step [-], and the settings in words."""

    light: float
    margin_k: float
    step: float | None
    settings: str
    chosen: bool


def trade_rows(tuning: "Tuning", along: "tuple[Tried, ...]") -> list[TradeRow]:
    """A few of a trade-off, the recommended settings among them; the most light first."""
    least_k = min(0.0, tuning.goal.guard_k - SHOWN_K)
    near = [one for one in along if one.figures.margin_k >= least_k]
    shown = list(thinned(near, MOST_ROWS))
    if tuning.chosen is not None and tuning.chosen not in shown:
        shown.append(tuning.chosen)
    shown.sort(key=lambda one: -one.figures.light)
    return [
        TradeRow(
            one.figures.light,
            one.figures.margin_k,
            one.figures.seen.step if one.figures.seen else None,
            brief(one, 3),
            one == tuning.chosen,
        )
        for one in shown
    ]


def brief(one: Tried, most: int = 4) -> str:
    """The thresholds and gains of some settings in one line, the first few."""
    parts = [(k, said) for k, said in one.settings if k.startswith(f"{POLICY}.")]
    return ", ".join(f"{name_of(key)} {said}" for key, said in parts[:most])


def verdict(tuning: "Tuning") -> str:
    """The verdict in one sentence."""
    guard = f"{figures(tuning.goal.guard_k, 2)} K"
    if tuning.chosen is None:
        margin_k = tuning.closest.figures.margin_k
        end = "; the search was stopped before its time" if tuning.interrupted else ""
        if margin_k >= 0.0:
            return (
                f"No setting keeps {guard} to every limit: the closest, "
                f"{brief(tuning.closest)}, keeps {number(margin_k)} K{end}."
            )
        return (
            f"No setting holds the limits: with the closest, {brief(tuning.closest)}, one is "
            f"passed by {number(-margin_k)} K{end}."
        )
    found = tuning.chosen.figures
    text = (
        f"{percent(found.light)} of the light asked for, {number(found.margin_k)} K below every "
        f"limit, with {brief(tuning.chosen)}"
    )
    if not tuning.enough:
        text += f"; {lacking_words(tuning)}"
    if tuning.interrupted:
        text += "; stopped before its time and not checked"
    return f"{text}."


def lacking_words(tuning: "Tuning") -> str:
    """What was asked of the light and no setting gives."""
    seen, goal = (tuning.chosen or tuning.closest).figures.seen, tuning.goal
    found = []
    if seen is not None and seen.step > goal.step:
        found.append(f"steps of {percent(seen.step)}, above the {percent(goal.step)} asked for")
    if seen is not None and seen.fall > goal.fall:
        found.append(f"a fall by {percent(seen.fall)}, above the {percent(goal.fall)} asked for")
    if seen is not None and seen.turns >= goal.turns:
        found.append("hunting")
    return "no setting found is without " + " and ".join(found) if found else ""


def light_words(tuning: "Tuning") -> str:
    """How much light, now and tuned, and how near to the possible."""
    if tuning.chosen is None:
        return ""
    light, now = tuning.chosen.figures.light, tuning.present
    text = f"{percent(light)} of what is asked for, now {percent(now.light)}"
    near = [f"{percent(one.of_possible)} in {one.profile}"
            for one in tuning.checks if one.of_possible is not None]  # fmt: skip
    return text + (f"; of the possible {', '.join(near)}" if near else "")


def limits_words(tuning: "Tuning") -> str:
    """The margin, now and tuned, and whose it is."""
    if tuning.chosen is None:
        return ""
    margin_k, now_k = tuning.chosen.figures.margin_k, tuning.present.margin_k
    now = f"now {number(now_k)} K" if now_k >= 0 else f"now {number(-now_k)} K above a limit"
    return (
        f"{number(margin_k)} K to the nearest of all units, {now}; at least "
        f"{figures(tuning.goal.guard_k, 2)} K is asked for"
    )


def units_words(tuning: "Tuning") -> str:
    """On which units the settings were tried, and what that covers."""
    if len(tuning.units) == 1:
        why = ""
        if tuning.wanted.corners != "none":
            why = ": the lamp file has no tolerances"
            if variations(tuning.lamp):
                why = ": the corners of its tolerances take longer than a third of the time given"
        return f"the nominal lamp alone{why}; the guard stands for what varies"
    kind = (
        "three standard deviations out to the bad side, a search and no bound"
        if tuning.wanted.corners == "likely"
        else "all parts at their limits to the bad side"
    )
    return f"{', '.join(tuning.units)}; a corner has its parts {kind}"


def drawn_words(tuning: "Tuning") -> str:
    """What drawn units do."""
    found = tuning.drawn
    if found is None:
        return ""
    passed = "none passes a limit"
    if found.above_limit:
        passed = f"{found.above_limit} of them above a limit"
    elif found.below_guard:
        passed += f", {found.below_guard} of them have less than the guard"
    least = f"at least {number(found.least_margin_k)} K of margin"
    if found.least_margin_k < 0.0:
        least = f"up to {number(-found.least_margin_k)} K above a limit"
    return (
        f"{least}, {passed}; {percent(found.least_light)} to {percent(found.most_light)} of the "
        "light asked for"
    )


def seen_words(seen: "Seen | None") -> str:
    """What people see of the control."""
    if seen is None:
        return "not looked at"
    step = f"largest step within a second {percent(seen.step)}"
    judged = "just noticeable is" if seen.step < JUST_NOTICEABLE else "noticeable from"
    text = f"{step}, {judged} {percent(JUST_NOTICEABLE)}"
    if seen.steps:
        text += f", {seen.steps} noticeable"
    text += f"; deepest fall {percent(seen.fall)}"
    if seen.intervening:
        text += f", at which {'half' if seen.intervening >= 0.5 else 'one in five'} or more of "
        return text + "people would reach for the dimmer even if it is slow"
    return text + (", which half notice even if it is slow" if seen.noticed else "")


def checks_words(tuning: "Tuning") -> list[tuple[str, str]]:
    """The nominal lamp on the timeline, a profile a row."""
    found = []
    for one in tuning.checks:
        margin = f"{number(abs(one.margin_k))} K {'below' if one.margin_k >= 0 else 'ABOVE'}"
        same = "both clocks agree"
        if not one.agrees:
            same = f"the two clocks differ by {figures(one.differs_k, 2)} K"
        hunts = ", HUNTS" if one.hunts else ""
        words = f"{one.nearest} {margin} its limit, {percent(one.light)} light{hunts}; {same}"
        found.append((one.profile, words))
    return found


def reason(tuning: "Tuning") -> str:
    """Why these settings are recommended."""
    if tuning.chosen is None:
        return ""
    flat = [row.name for row in setting_rows(tuning) if row.flat]
    text = (
        f"Of {tuning.tried} settings tried these give the most light with all that is asked for, "
        "and the most margin among those within 0.2 % of it"
    )
    if not tuning.finished:
        text += "; more time may find a little more"
    if flat:
        text += f". Little hangs on {', '.join(flat)}, so they need not be exact"
    return f"{text}."


def warnings(tuning: "Tuning") -> list[str]:
    """What a reader must know before using the settings."""
    found = [
        f"{one.profile}: batch and timeline differ by {figures(one.differs_k, 2)} K"
        for one in tuning.checks
        if not one.agrees
    ]
    found += [f"{one.profile}: the lamp hunts" for one in tuning.checks if one.hunts]
    if tuning.drawn is not None and tuning.drawn.above_limit:
        found.append(f"{tuning.drawn.above_limit} of {tuning.drawn.units} drawn units pass a limit")
    return found
