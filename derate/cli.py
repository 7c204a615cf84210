"""The command line: parse, call, print.

Exit status 0: done, limits held; 1: done, a limit was exceeded; 2: the input or the surroundings
are wrong, told in one sentence on standard error. Heavy modules are imported where they are used,
so that ``derate --help`` answers at once.
"""

import argparse
import dataclasses
import difflib
import shlex
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from derate import __version__, streams
from derate.errors import DerateError, InputError, SurroundingsError, printable
from derate.interrupt import held

if TYPE_CHECKING:
    from derate.lamp import Lamp, Profile
    from derate.loop.run import Result

HELD, EXCEEDED, WRONG = 0, 1, 2
INTERRUPTED = 130
PIPE_CLOSED = 141
LARGEST_SEED = 2**32 - 1
MOST_SIGNS = 60
"""Of what was typed, as many signs are repeated in a complaint."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status."""
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        streams.ready()
        return _command(words)
    except DerateError as error:
        _tell(str(error))
    except KeyboardInterrupt:
        _tell("interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        streams.abandon()
        return PIPE_CLOSED
    except OSError as error:
        about = f"{error.filename}: " if error.filename else ""
        _tell(f"{about}{error.strerror or error}")
    return WRONG


def _command(words: list[str]) -> int:
    parser = _parser()
    name = next((word for word in words if not word.startswith("-")), None)
    if name is not None and name not in COMMANDS:
        raise InputError(_unknown("command", name, COMMANDS, "derate --help"))
    given, unknown = parser.parse_known_args(words)
    manual = f"derate {given.command} --help"
    if given.command is None:
        raise InputError(f"a command is due, one of {', '.join(COMMANDS)}; see `derate --help`")
    if unknown and not unknown[0].startswith("-"):
        raise InputError(f'{given.command} has no use for "{_short(unknown[0])}"; see `{manual}`')
    if unknown:
        options = OPTIONS[given.command]
        raise InputError(_unknown("option", unknown[0].split("=")[0], options, manual))
    given.words = words
    from derate.report.folder import gone_if_in_vain

    folders = [getattr(given, option, None) for option in ("out", "c")]
    with gone_if_in_vain(folder for folder in folders if folder):
        return COMMANDS[given.command](given)


def run(given: argparse.Namespace) -> int:
    """Run a lamp through a mission profile: how hot, how bright, how controlled."""
    folder = _prepared(given.out)
    from derate.lamp import load

    lamp = load(given.lamp)
    name, profile = _profile(lamp, given)
    _tell(f"running {given.lamp} through {name}")
    with _naming(given.lamp), held() as stop:
        _tell_of_compiling()
        from derate.loop import run as loop

        result = loop.run(lamp, profile, profile_name=name, seed=given.seed, tell=_tell, stop=stop)
    result = _with_command(result, given)
    for warning in result.merit.warnings:
        _tell(f"warning: {warning}")
    if folder is not None:
        from derate.report.files import write

        written = write(result, folder)
        _tell(f"wrote {len(written)} files to {folder}, report.html among them")
    _show(result, as_json=given.json)
    return HELD if result.merit.held else EXCEEDED


def check(given: argparse.Namespace) -> int:
    """Tell whether a lamp file is right, without running it."""
    from derate.control.body import PythonBody
    from derate.firmware.header import settings_header
    from derate.lamp import load
    from derate.lamp.doubts import doubts
    from derate.plant.network import assemble
    from derate.sensing.chain import Chain

    lamp = load(given.lamp)
    with _naming(given.lamp):
        assemble(lamp)
        chains = tuple(Chain(lamp, name) for name in lamp.sensors)
        if lamp.controller.body == "python":
            PythonBody(lamp, chains)
        else:
            settings_header(lamp, chains)
    for warning in (*doubts(lamp), *(text for chain in chains for text in chain.warnings)):
        _tell(f"warning: {warning}")
    counts = ((lamp.channels, "channel"), (lamp.nodes, "node"), (lamp.sensors, "sensor"))
    parts = ", ".join(f"{len(c)} {what}{'' if len(c) == 1 else 's'}" for c, what in counts)
    profiles = ", ".join(lamp.profiles) or "none"
    _say(f"{given.lamp.name}: a lamp with {parts}; profiles: {profiles}")
    return HELD


def new(given: argparse.Namespace) -> int:
    """Write a complete lamp file to begin from."""
    from derate.lamp import starter_text
    from derate.report.folder import place_new

    path: Path = given.file
    if path.suffix != ".toml":
        raise InputError(f"{path}: the name of a lamp file ends in .toml")
    try:
        place_new(path, starter_text().encode())
    except FileExistsError:
        raise InputError(f"{path} exists already; give another name") from None
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(f"{path} cannot be written: there is no folder {path.parent}") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SurroundingsError(f"{path} cannot be written: {reason}") from None
    at = shlex.quote(str(path))
    _say(f"wrote {path}: a whole lamp with invented numbers, every key explained")
    _say(f"next: put in your own numbers, then `derate check {at}` and `derate run {at}`")
    return HELD


COMMANDS = {"run": run, "check": check, "new": new}
OPTIONS = {
    "run": ("--profile", "--out", "--json", "--seed", "--help"),
    "check": ("--help",),
    "new": ("--help",),
}


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are sentences like all others."""

    def error(self, message: str) -> NoReturn:
        """Raise the complaint as InputError."""
        raise InputError(f"{message.removeprefix('argument ')}; see `{self.prog} --help`")

    def _print_message(self, message: str, file: Any = None) -> None:
        """Print help; argparse itself would pass over that it cannot be written."""
        with streams.writing():
            print(message, end="", file=file or sys.stderr)


def _parser() -> _Parser:
    parser = _Parser(
        prog="derate",
        description="Thermal derating of high-power LED lamps, with the firmware in the loop.",
        epilog="Exit status: 0 limits held, 1 a limit was exceeded, 2 the input or the "
        "surroundings are wrong. A firmware limit is no substitute for an independent hardware "
        "cut-out where failure can hurt; measure before trusting.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"derate {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    def command(name: str) -> argparse.ArgumentParser:
        text = (COMMANDS[name].__doc__ or "").strip()
        brief = text[0].lower() + text[1:].rstrip(".")
        return commands.add_parser(name, help=brief, description=text, allow_abbrev=False)

    one = command("run")
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--profile", metavar="NAME|FILE", type=_name,
        help="a profile by name, or its file; default: the first",
    )  # fmt: skip
    one.add_argument(
        "--out", metavar="DIR", type=_path, help="where to write report, figures, trace"
    )
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")
    one.add_argument("--seed", metavar="N", type=_seed, default=0, help="of noise and jitter; 0")
    command("check").add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file")
    command("new").add_argument("file", metavar="FILE", type=_path, help="its name, ends in .toml")
    return parser


def _seed(text: str) -> int:
    """A seed from the command line."""
    digits = text.isascii() and text.isdigit() and len(text) <= MOST_SIGNS
    if not (digits and int(text) <= LARGEST_SEED):
        raise argparse.ArgumentTypeError(
            f'found "{_short(text)}", a whole number from 0 to {LARGEST_SEED} is due'
        )
    return int(text)


def _name(text: str) -> str:
    """A name from the command line."""
    if not text:
        raise argparse.ArgumentTypeError('found "", a name is due')
    return text


def _path(text: str) -> Path:
    """A path from the command line."""
    return Path(_name(text))


def _short(text: str) -> str:
    return text if len(text) <= MOST_SIGNS else text[: MOST_SIGNS - 3] + "..."


def _profile(lamp: "Lamp", given: argparse.Namespace) -> tuple[str, "Profile"]:
    """Name and profile that --profile asks for; says so when it is the first of several."""
    from derate.lamp import profile_of

    name, profile = profile_of(lamp, given.profile)
    if given.profile is None and len(lamp.profiles) > 1:
        _tell(f"no --profile given, so {name}, the first of {', '.join(lamp.profiles)}")
    return name, profile


def _prepared(out: Path | None) -> Path | None:
    """The folder for --out, made before any work."""
    if out is not None:
        from derate.report.folder import prepare

        prepare(out)
    return out


def _with_command(result: "Result", given: argparse.Namespace) -> "Result":
    """The result with the command line in its provenance."""
    command = shlex.join(["derate", *given.words])
    return dataclasses.replace(result, provenance={**result.provenance, "command": command})


def _show(result: "Result", *, as_json: bool) -> None:
    """Print the result for a machine or for people."""
    if as_json:
        from derate.report.summary import to_json

        with streams.writing("utf-8"):
            sys.stdout.write(to_json(result))
    else:
        from derate.report.terminal import print_result

        with streams.writing():
            print_result(result, sys.stdout)


@contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Let complaints about a lamp name its file."""
    try:
        yield
    except InputError as error:
        if str(path) in str(error):
            raise
        raise InputError(f"{path}: {error}") from None


def _tell_of_compiling() -> None:
    """Say so when the compiled kernels are not there yet."""
    import numba

    import derate.compiled  # noqa: F401  sets the folder

    if not Path(vars(numba.config)["CACHE_DIR"]).exists():
        _tell("the first run compiles its kernels, which takes some seconds")


def _unknown(what: str, found: str, known: Iterable[str], manual: str) -> str:
    """The sentence about a word that is not known."""
    return f'no {what} is called "{_short(found)}"{_near(found, known)}; see `{manual}`'


def _near(found: str, known: Iterable[str]) -> str:
    close = difflib.get_close_matches(found, list(known), n=1, cutoff=0.5)
    return f', nearest is "{close[0]}"' if close else ""


def _say(line: str) -> None:
    """A line on standard output."""
    with streams.writing():
        print(line)


def _tell(message: str) -> None:
    """Progress, warnings and complaints, on standard error, each in one line."""
    print(f"derate: {printable(message)}", file=sys.stderr, flush=True)
