"""The command line: parse, call, print.

Exit status 0: done, limits held; 1: done, a limit was exceeded; 2: the input or the surroundings
are wrong, told on standard error in one sentence a mistake. Heavy modules are imported where they
are used, so that ``derate --help`` answers at once.
"""

import argparse
import dataclasses
import os
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from derate import progress, streams
from derate.arguments import parser, short, unknown
from derate.challenge_command import challenge
from derate.errors import DerateError, InputError, SurroundingsError
from derate.faults_command import faults
from derate.firmware_command import firmware
from derate.interrupt import held, is_interrupt
from derate.spread_command import spread
from derate.telling import (
    EXCEEDED,
    HELD,
    WRONG,
    command_line,
    naming,
    prepared,
    profile_asked,
    say,
    show,
    tell,
    tell_of_compiling,
)
from derate.tune_command import tune
from derate.worst_command import worst

if TYPE_CHECKING:
    from derate.lamp import Lamp, Profile
    from derate.loop.run import Result
    from derate.sensing.study import ReadingStudy, Wanted
    from derate.study.point import PointStudy
    from derate.study.possible import Possible

INTERRUPTED = 130
PIPE_CLOSED = 141
LINEAR_ALGEBRA = "OPENBLAS_NUM_THREADS"
"""How many threads numpy's and scipy's linear algebra takes. One is quicker for matrices like
ours: what takes long goes two at a time anyhow, and more threads would wait for each other."""
MUCH_K = 1.0
"""A table that errs by more than this is told of."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status."""
    words = list(sys.argv[1:] if argv is None else argv)
    os.environ.setdefault(LINEAR_ALGEBRA, "1")
    try:
        streams.ready()
        return _command(words)
    except DerateError as error:
        for sentence in error.sentences:
            tell(sentence)
    except KeyboardInterrupt:
        tell("interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        streams.abandon()
        return PIPE_CLOSED
    except SystemError as error:
        if not is_interrupt(error):
            raise
        tell("interrupted")
        return INTERRUPTED
    except OSError as error:
        about = f"{error.filename}: " if error.filename else ""
        tell(f"{about}{error.strerror or error}")
    return WRONG


def _command(words: list[str]) -> int:
    known = parser(COMMANDS)
    name = next((word for word in words if not word.startswith("-")), None)
    if name is not None and name not in COMMANDS:
        raise InputError(unknown("command", name, COMMANDS, "derate --help"))
    given, extra = known.parse_known_args(words)
    manual = f"derate {given.command} --help"
    if given.command is None:
        raise InputError(f"a command is due, one of {', '.join(COMMANDS)}; see `derate --help`")
    if extra and not extra[0].startswith("-"):
        raise InputError(f'{given.command} has no use for "{short(extra[0])}"; see `{manual}`')
    if extra:
        options = known.commands[given.command].options
        raise InputError(unknown("option", extra[0].split("=")[0], options, manual))
    given.words = words
    from derate.report.folder import gone_if_in_vain

    folders = [getattr(given, option, None) for option in ("out", "c", "export")]
    with gone_if_in_vain(folder for folder in folders if folder):
        return COMMANDS[given.command](given)


def run(given: argparse.Namespace) -> int:
    """Run a lamp through a mission profile: how hot, how bright, how controlled."""
    folder = prepared(given.out)
    from derate.lamp import load

    lamp = load(given.lamp)
    name, profile = profile_asked(lamp, given)
    tell(f"running {given.lamp} through {name}")
    with naming(given.lamp), held() as stop:
        tell_of_compiling()
        from derate.loop import run as loop

        result = loop.run(lamp, profile, profile_name=name, seed=given.seed, tell=tell, stop=stop)
        possible = _possible(lamp, profile) if given.possible else None
    result = _with_command(result, given)
    for warning in result.merit.warnings:
        tell(f"warning: {warning}")
    if folder is not None:
        from derate.report.files import write

        written = write(result, folder, possible=possible)
        tell(f"wrote {len(written)} files to {folder}, report.html among them")
    from derate.report.summary import to_json
    from derate.report.terminal import print_result

    show(
        result,
        lambda subject: to_json(subject, possible),
        lambda subject, out: print_result(subject, out, possible),
        as_json=given.json,
    )
    if result.merit.cut_short:
        tell(f"{result.merit.cut_short}; what was computed until then is told")
        return WRONG
    return HELD if result.merit.held else EXCEEDED


def _possible(lamp: "Lamp", profile: "Profile") -> "Possible":
    """The most light that any controller could get out of the lamp."""
    from derate.study.possible import possible

    tell("looking for the most light that any controller could give")
    return possible(lamp, profile)


def check(given: argparse.Namespace) -> int:
    """Tell whether a lamp file is right, without running it."""
    from derate.control.body import PythonBody
    from derate.firmware.sources import sources_of
    from derate.lamp import load
    from derate.lamp.doubts import doubts
    from derate.plant.network import assemble
    from derate.plant.surface.doubts import doubts_of_surfaces
    from derate.sensing.chain import chains_of

    lamp = load(given.lamp)
    with naming(given.lamp):
        assemble(lamp)
        chains = chains_of(lamp)
        if lamp.controller.body == "python":
            PythonBody(lamp, chains)
        else:
            sources_of(lamp, chains)
    said = (*doubts(lamp), *doubts_of_surfaces(lamp))
    for warning in (*said, *(text for chain in chains for text in chain.warnings)):
        tell(f"warning: {warning}")
    from derate.report.lamp_lines import lamp_lines

    for line in lamp_lines(lamp, given.lamp.name):
        say(line)
    return HELD


def new(given: argparse.Namespace) -> int:
    """Write a complete lamp file to begin from."""
    from derate.lamp import starter_text
    from derate.report.folder import place_new

    path: Path = given.file
    if path.suffix != ".toml":
        raise InputError(f"{path}: the name of a lamp file ends in .toml")
    try:
        place_new(path, starter_text(board=given.board).encode())
    except FileExistsError:
        raise InputError(f"{path} exists already; give another name") from None
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(f"{path} cannot be written: there is no folder {path.parent}") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SurroundingsError(f"{path} cannot be written: {reason}") from None
    at = shlex.quote(str(path))
    say(f"wrote {path}: a whole lamp with invented numbers, every key explained")
    command = "point" if given.board else "run"
    say(f"next: put in your own numbers, then `derate check {at}` and `derate {command} {at}`")
    return HELD


def table(given: argparse.Namespace) -> int:
    """Tell what the firmware reads: error budget, smallest reading table, a threshold as code."""
    folder, firmware = prepared(given.out), prepared(given.c, "--c")
    with held() as stop:
        study = _studied(given)
        for warning in study.warnings:
            tell(f"warning: {warning}")
        if study.table.error_k > MUCH_K:
            tell(f"warning: the table itself errs by up to {study.table.error_k:.1f} K")
        if firmware is not None or folder is not None:
            from derate.report.table_files import firmware_files, report_files, write

            code = firmware_files(study) if firmware is not None and not stop() else {}
            looks = report_files(study) if folder is not None and not stop() else {}
            if firmware is not None and not stop():
                write(code, firmware, "--c")
                tell(f"wrote {', '.join(code)} to {firmware}")
            if folder is not None and not stop():
                write(looks, folder)
                tell(f"wrote {len(looks)} files to {folder}, table.html among them")
        if not stop():
            from derate.report.table_summary import to_json
            from derate.report.table_terminal import print_study

            show(study, to_json, print_study, as_json=given.json)
    return HELD


def point(given: argparse.Namespace) -> int:
    """Tell how hot and bright a lamp is at rest, what limits it and what would help."""
    folder = prepared(given.out)
    with held() as stop:
        study = _point_of(given)
        for warning in study.warnings:
            tell(f"warning: {warning}")
        if folder is not None and not stop():
            from derate.report.point_files import report_files, write

            with progress.shown() as doing:
                looks = report_files(study, doing)
            if not stop():
                write(looks, folder)
                tell(f"wrote {len(looks)} files to {folder}, point.html among them")
        if not stop():
            from derate.report.point_summary import to_json
            from derate.report.point_terminal import print_study

            show(study, to_json, print_study, as_json=given.json)
    return HELD if study.holds else EXCEEDED


def _point_of(given: argparse.Namespace) -> "PointStudy":
    """The operating point that the options ask for, with the command line in its source."""
    from derate.lamp import load

    lamp = load(given.lamp)
    against = load(given.against) if given.against else None
    tell(f"looking at {given.lamp} at rest")
    tell_of_compiling()
    from derate.study.point import study_point

    with naming(given.lamp), progress.shown() as doing:
        study = study_point(
            lamp,
            ambient_c=given.ambient,
            airflow=given.airflow,
            request=given.request,
            against=against,
            doing=doing,
        )
    return dataclasses.replace(study, source={**study.source, "command": command_line(given)})


def _studied(given: argparse.Namespace) -> "ReadingStudy":
    """The study that the options ask for, with the command line in its source."""
    from derate.lamp import load

    lamp = load(given.lamp)
    wanted = _wanted(given)
    tell_of_compiling()
    from derate.sensing.study import study_lamp

    if given.sensor is None and len(lamp.sensors) > 1:
        first, *_ = lamp.sensors
        tell(f"no --sensor given, so {first}, the first of {', '.join(lamp.sensors)}")
    with naming(given.lamp):
        study = study_lamp(
            lamp,
            given.sensor,
            wanted=wanted,
            bits=given.bits,
            ambient_c=tuple(given.ambient) if given.ambient else None,
            ramp_k_per_s=given.ramp,
        )
    return dataclasses.replace(study, source={**study.source, "command": command_line(given)})


COMMANDS = {
    "run": run,
    "table": table,
    "point": point,
    "spread": spread,
    "tune": tune,
    "challenge": challenge,
    "worst": worst,
    "faults": faults,
    "firmware": firmware,
    "check": check,
    "new": new,
}


def _wanted(given: argparse.Namespace) -> "Wanted":
    """What the options ask of the table."""
    from derate.sensing.study import Wanted

    interest_c = tuple(given.interest) if given.interest else None
    return Wanted(
        max_error_k=given.max_error,
        max_bytes=given.bytes,
        kind=given.kind,
        scale=given.scale,
        threshold_c=given.threshold,
        interest_c=interest_c,
        aim=given.aim,
        series=given.series,
    )


def _with_command(result: "Result", given: argparse.Namespace) -> "Result":
    """The result with the command line in its provenance."""
    provenance = {**result.provenance, "command": command_line(given)}
    return dataclasses.replace(result, provenance=provenance)
