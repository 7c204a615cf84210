"""Policies: what turns a reading into a limit, one of the built-in ones or a user's own.

A built-in policy is a module with ``Settings``, ``begin(settings)`` and ``limit(settings, state,
reading_c, period_s)``: plain numbers and tuples, so that numba can compile it; "predictive" also
looks at requests and duties. A user's policy is a class ``module:Class`` with methods ``begin()``
and ``limit(state, reading_c, period_s)``; both return what the built-in functions return. The
parameters of the class are the keys of the policy's table in the lamp file, their units taken from
the names: ``start = "70 degC"`` fills ``start_c``; a name without a unit suffix takes a ratio, or
what its annotation (int, bool, str) says.
"""

import functools
import importlib
import inspect
import math
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, redirect_stdout
from pathlib import Path
from typing import Any, NamedTuple, get_type_hints

from derate.control import foldback, open_loop, pi, predictive, steps
from derate.errors import InputError
from derate.lamp import controller
from derate.lamp.lamp import Lamp
from derate.lamp.quantities import Unit, convert, key_of, unit_of
from derate.lamp.sentence import nearest, shown

KEY = "controller.policy"
PLAIN_KINDS = (int, bool, str)
FAILURES = (Exception, SystemExit)
"""The user's code may fail in any way, and must not end the program in silence."""
TRIAL_C = 25.0
"""Reading at which a user's policy is tried once before it is run."""
BEGIN_DUE = "a method begin(self) that returns a state"
LIMIT_DUE = (
    "a method limit(self, state, reading_c, period_s) that returns the pair (share from 0 to 1,"
    " next state)"
)


class Policy(NamedTuple):
    """``begin()`` gives a state, ``limit(state, reading_c, period_s, requests_q15)`` a share and a
    state.

    ``driven(state, duties_q15)``: the state after a period with these duties; ``rested``: after
    these duties for ever. Only a policy that predicts looks at requests and duties. ``plain``: a
    function and its settings, function(settings, state, reading_c, period_s), that are all there is
    to ``limit`` besides checking; None where there are none.
    """

    begin: Callable[[], Any]
    limit: Callable[[Any, float, float, Sequence[int]], tuple[float, Any]]
    driven: Callable[[Any, Sequence[int]], Any]
    rested: Callable[[Any, Sequence[int]], Any]
    plain: tuple[Callable[..., Any], Any] | None = None


def _by_reading(
    begin: Callable[[], Any],
    limit: Callable[[Any, float, float], Any],
    plain: tuple[Callable[..., Any], Any] | None,
) -> Policy:
    """A policy that looks at the reading alone."""

    def unmoved(state: Any, duties_q15: Sequence[int]) -> Any:
        return state

    def by_reading(state: Any, reading_c: float, period_s: float, _: Sequence[int]) -> Any:
        return limit(state, reading_c, period_s)

    return Policy(begin, by_reading, unmoved, unmoved, plain)


def _predicting(settings: predictive.Settings) -> Policy:
    return Policy(
        functools.partial(predictive.begin, settings),
        lambda state, reading_c, _, requests: predictive.limit(
            settings, state, reading_c, requests
        ),
        functools.partial(predictive.driven, settings),
        lambda _, duties_q15: predictive.rested(settings, duties_q15),
    )


def policy_of(lamp: Lamp) -> Policy:
    """The policy of a lamp; raises InputError when a class of the user's cannot be used."""
    chosen = lamp.controller.policy
    if isinstance(chosen, controller.Custom):
        return _custom(lamp, chosen)
    if isinstance(chosen, controller.Predictive):
        return _predicting(predictive.settings_of(lamp, chosen))
    module, settings = built_in(chosen)
    return _by_reading(
        functools.partial(module.begin, settings),
        functools.partial(module.limit, settings),
        (module.limit, settings),
    )


def built_in(chosen: controller.Policy) -> tuple[Any, Any]:
    """The module and the settings of a built-in policy that looks at the reading alone."""
    match chosen:
        case controller.Foldback():
            return foldback, foldback.Settings(
                chosen.start_c, chosen.end_c, chosen.floor, chosen.hysteresis_k
            )
        case controller.Steps():
            at_c = tuple(level.at_c for level in chosen.levels)
            limits = tuple(level.limit for level in chosen.levels)
            return steps, steps.Settings(at_c, limits, chosen.hysteresis_k)
        case controller.Pi():
            return pi, pi.Settings(
                chosen.setpoint_c, chosen.gain_per_k, chosen.integral_per_k_s, chosen.floor
            )
    return open_loop, open_loop.Settings()


def _custom(lamp: Lamp, chosen: controller.Custom) -> Policy:
    file = str(lamp.source) if lamp.source else lamp.name
    made = class_of(lamp)
    for method, due in (("begin", BEGIN_DUE), ("limit", LIMIT_DUE)):
        if not callable(getattr(made, method, None)):
            raise _wrong(file, "kind", f"{chosen.kind} without a method {method}", due)
    values = _values(file, chosen, made)
    try:
        with _onto_standard_error():
            trial, instance = made(**values), made(**values)
    except FAILURES as error:
        found = f"{chosen.kind}, which refuses its settings ({_told(error)})"
        raise _wrong(file, "kind", found, "settings it accepts") from error
    tried = _checked(trial, file, chosen.kind)
    tried.limit(tried.begin(), TRIAL_C, lamp.timing.control_period_s, ())
    return _checked(instance, file, chosen.kind)


def class_of(lamp: Lamp) -> Any:
    """The class that a lamp names as its policy; raises InputError when there is none."""
    file = str(lamp.source) if lamp.source else lamp.name
    return _class_of(file, lamp.source, lamp.controller.policy.kind)


def _wrong(file: str, key: str, found: str, due: str) -> InputError:
    return InputError(f"{file}: {KEY}.{key}: found {found}, due {due}")


@contextmanager
def _importable(source: Path | None) -> Iterator[None]:
    """The lamp file's folder and the current one are on the import path meanwhile."""
    folders = [str(source.resolve().parent)] if source else []
    folders.append(str(Path.cwd()))
    before = list(sys.path)
    sys.path[:0] = folders
    try:
        yield
    finally:
        sys.path[:] = before


def _onto_standard_error() -> AbstractContextManager[Any]:
    """What the user's code prints goes to standard error: standard output is for results."""
    return redirect_stdout(sys.stderr)


def _told(error: BaseException) -> str:
    """A failure of the user's code in one line."""
    return " ".join(f"{type(error).__name__}: {error}".split()).removesuffix(":")


def _class_of(file: str, source: Path | None, kind: str) -> Any:
    name, _, class_name = kind.partition(":")
    importlib.invalidate_caches()
    try:
        with _importable(source), _onto_standard_error():
            module = importlib.import_module(name)
    except ModuleNotFoundError as error:
        due = "a Python module beside the lamp file or in the current folder"
        if error.name != name:
            due = f'a module whose imports are installed (it wants "{error.name}")'
        raise _wrong(file, "kind", f'"{kind}", whose module is not found', due) from None
    except FAILURES as error:
        found = f'"{kind}", whose module fails to load ({_told(error)})'
        raise _wrong(file, "kind", found, "a module that loads") from error
    classes = [key for key, value in vars(module).items() if inspect.isclass(value)]
    if class_name not in classes:
        found = f'"{kind}", which its module does not have'
        raise _wrong(file, "kind", found, f"one of {nearest(class_name, classes)}")
    return getattr(module, class_name)


def _values(file: str, chosen: controller.Custom, made: Any) -> dict[str, Any]:
    """The class's arguments, by name, from the settings, by key."""
    settings = chosen.settings
    parameters = {key_of(name): kind for name, kind in _parameters(file, chosen, made).items()}
    for key in settings:
        if key not in parameters:
            due = f"one of the keys {nearest(key, parameters)}"
            if not parameters:
                due = f"no settings, as {chosen.kind} has no annotated fields"
            raise _wrong(file, key, "an unknown key", due)
    hints = _hints(file, chosen, made)
    values = {}
    for key, parameter in parameters.items():
        unit = unit_of(parameter.name) or Unit("", "", 'a ratio such as 0.2 or "20 %"')
        kind = hints.get(parameter.name, float)
        due = unit.due if kind not in PLAIN_KINDS else f"a value of the type {kind.__name__}"
        if key in settings:
            values[parameter.name] = _value(file, key, settings[key], unit, kind, due)
        elif parameter.default is inspect.Parameter.empty:
            raise _wrong(file, key, "nothing", due)
    return values


def _parameters(file: str, chosen: controller.Custom, made: Any) -> dict[str, inspect.Parameter]:
    """The parameters a lamp file can fill, each by its own name."""
    try:
        parameters = dict(inspect.signature(made).parameters)
    except (ValueError, TypeError) as error:
        found = f"{chosen.kind}, whose parameters cannot be seen ({_told(error)})"
        raise _wrong(file, "kind", found, "a class with annotated fields") from error
    for parameter in parameters.values():
        match parameter.kind:
            case parameter.VAR_POSITIONAL | parameter.VAR_KEYWORD | parameter.POSITIONAL_ONLY:
                found = f'{chosen.kind}, whose __init__ takes "{str(parameter).split(":")[0]}"'
                due = "parameters that each can be given by name, as annotated fields make them"
                raise _wrong(file, "kind", found, due)
    return parameters


def _hints(file: str, chosen: controller.Custom, made: Any) -> dict[str, Any]:
    """The annotations of the class and of its __init__."""
    try:
        return get_type_hints(made.__init__) | get_type_hints(made)
    except FAILURES as error:
        found = f"{chosen.kind}, whose annotations cannot be read ({_told(error)})"
        raise _wrong(file, "kind", found, "annotations with names that its module has") from error


def _value(file: str, key: str, given: Any, unit: Unit, kind: Any, due: str) -> Any:
    if kind in PLAIN_KINDS:
        if type(given) is kind:
            return given
    elif isinstance(given, str):
        try:
            return convert(given, unit.symbol)
        except ValueError:
            pass
    elif isinstance(given, int | float) and not isinstance(given, bool) and not unit.symbol:
        return float(given)
    raise _wrong(file, key, shown(given), due)


def _checked(instance: Any, file: str, kind: str) -> Policy:
    """The user's two methods; what they raise or return amiss is told in one sentence."""

    def called(method: str, due: str, *arguments: Any) -> Any:
        try:
            with _onto_standard_error():
                return getattr(instance, method)(*arguments)
        except FAILURES as error:
            found = f'"{kind}", whose {method} fails ({_told(error)})'
            raise _wrong(file, "kind", found, due) from error

    def begin() -> Any:
        return called("begin", BEGIN_DUE)

    def limit(state: Any, reading_c: float, period_s: float) -> tuple[float, Any]:
        answer = called("limit", LIMIT_DUE, state, reading_c, period_s)
        match answer:
            case (int() | float() as share, after) if math.isfinite(share) and 0 <= share <= 1:
                return share, after
        found = f'"{kind}", whose limit at {reading_c:g} degC returned {shown(repr(answer))}'
        raise _wrong(file, "kind", found, LIMIT_DUE)

    method = inspect.getattr_static(type(instance), "limit")
    return _by_reading(begin, limit, (method, instance) if inspect.isfunction(method) else None)
