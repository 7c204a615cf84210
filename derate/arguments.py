"""The words of the command line: what each command takes, and complaints about the rest.

Nothing heavy is imported here, so that ``derate --help`` answers at once.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NoReturn

from derate import __version__, streams
from derate.challenge_arguments import challenge_options
from derate.errors import InputError
from derate.typed import name as _name
from derate.typed import names as _names
from derate.typed import near as _near
from derate.typed import one_of as _one_of
from derate.typed import path as _path
from derate.typed import quantity as _quantity
from derate.typed import ratio as _ratio
from derate.typed import requests as _requests
from derate.typed import short as short
from derate.typed import whole as _whole

LARGEST_SEED = 2**32 - 1
MOST_UNITS = 10_000_000
MOST_WORKERS = 256
TABLE_KINDS = ("placed knots", "temperature steps", "code steps", "direct")
AIMS = ("resolution", "error")
SERIES = ("E12", "E24", "E96")
CORNERS = ("likely", "extreme", "none")
CORES = ("thumb", "riscv32", "avr")
SCALES = ("16", "32", "64", "100", "128")


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are sentences like all others; ``commands``: theirs by name."""

    commands: "Mapping[str, Parser]"

    @property
    def options(self) -> tuple[str, ...]:
        """The options it knows."""
        return tuple(word for action in self._actions for word in action.option_strings)

    def error(self, message: str) -> NoReturn:
        """Raise the complaint as InputError."""
        raise InputError(f"{message.removeprefix('argument ')}; see `{self.prog} --help`")

    def _print_message(self, message: str, file: Any = None) -> None:
        """Print help; argparse itself would pass over that it cannot be written."""
        with streams.writing():
            print(message, end="", file=file or sys.stderr)


def parser(commands_by_name: Mapping[str, Callable[..., int]]) -> Parser:
    """The parser of all commands; what each does is told by its docstring."""
    parser = Parser(
        prog="derate",
        description="Thermal derating of high-power LED lamps, with the firmware in the loop.",
        epilog="Exit status: 0 limits held, 1 a limit was exceeded, 2 the input or the "
        "surroundings are wrong. A firmware limit is no substitute for an independent hardware "
        "cut-out where failure can hurt; measure before trusting.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"derate {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    parser.commands = commands.choices

    def command(name: str) -> argparse.ArgumentParser:
        text = (commands_by_name[name].__doc__ or "").strip()
        brief = text[0].lower() + text[1:].rstrip(".")
        return commands.add_parser(name, help=brief, description=text, allow_abbrev=False)

    one = command("run")
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--profile", metavar="NAME|FILE", type=_name,
        help="a profile by name, or its file; default: the first",
    )  # fmt: skip
    one.add_argument(
        "--possible",
        action="store_true",
        help="also the most light that any controller could give with every limit held",
    )
    one.add_argument(
        "--out", metavar="DIR", type=_path, help="where to write report, figures, trace"
    )
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")
    one.add_argument(
        "--seed",
        metavar="N",
        type=_whole(0, LARGEST_SEED),
        default=0,
        help="of noise and jitter; 0",
    )
    _table_options(command("table"))
    _point_options(command("point"))
    _spread_options(command("spread"))
    _tune_options(command("tune"))
    challenge_options(command("challenge"), CORNERS, LARGEST_SEED)
    _worst_options(command("worst"))
    _faults_options(command("faults"))
    _firmware_options(command("firmware"))
    command("check").add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file")
    one = command("new")
    one.add_argument("file", metavar="FILE", type=_path, help="its name, ends in .toml")
    one.add_argument(
        "--board", action="store_true", help="a lamp described by its drawing: board, heat sink"
    )
    return parser


def _table_options(one: argparse.ArgumentParser) -> None:
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--sensor", metavar="NAME", type=_name, help="which sensor; default: the first"
    )
    one.add_argument("--bits", metavar="N", type=_whole(6, 16), help="another ADC: 6 to 16 bits")
    size = one.add_mutually_exclusive_group()
    size.add_argument(
        "--max-error", metavar="K", type=_quantity("K", 'an error such as "0.1 K"', above=0.0),
        help='at most this error of the table, "0.1 K"; the default',
    )  # fmt: skip
    size.add_argument(
        "--bytes", metavar="N", type=_whole(1, 131072), help="the best table in N bytes instead"
    )
    one.add_argument(
        "--kind", metavar="KIND", type=_one_of(TABLE_KINDS),
        help=f"{', '.join(TABLE_KINDS)}; default: the smallest of all",
    )  # fmt: skip
    one.add_argument(
        "--scale",
        metavar="N",
        type=lambda text: int(_one_of(SCALES)(text)),
        default=100,
        help="readings in 1/N degC: 16, 32, 64, 100 or 128; default: 100",
    )
    celsius = _quantity("degC", 'a temperature such as "85 degC"')
    one.add_argument(
        "--threshold", metavar="T", type=celsius, help='the code to compare with, for "85 degC"'
    )
    one.add_argument(
        "--interest", metavar=("LOW", "HIGH"), nargs=2, type=celsius,
        help='judge resistors from "40 degC" to "110 degC"; default: the working range',
    )  # fmt: skip
    one.add_argument(
        "--aim", metavar="AIM", type=_one_of(AIMS), default=AIMS[0],
        help="of resistors: resolution, the default, or error",
    )  # fmt: skip
    one.add_argument(
        "--series", metavar="E", type=_one_of(SERIES), default="E24",
        help="resistors of E12, E24 or E96; default: E24",
    )  # fmt: skip
    one.add_argument(
        "--ambient", metavar=("LOW", "HIGH"), nargs=2, type=celsius,
        help='air between "10 degC" and "40 degC"; default: 25 degC',
    )  # fmt: skip
    one.add_argument(
        "--ramp", metavar="R", type=_quantity("K/s", 'a rate such as "0.5 K/s"', least=0.0),
        help='the fastest change, such as "0.5 K/s"; default: none',
    )  # fmt: skip
    one.add_argument("--c", metavar="DIR", type=_path, help="where to write C, test, CSV, JSON")
    one.add_argument("--out", metavar="DIR", type=_path, help="where to write the page and figures")
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")


def _point_options(one: argparse.ArgumentParser) -> None:
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--ambient", metavar="T", type=_quantity("degC", 'a temperature such as "40 degC"'),
        help='air of "40 degC"; default: 25 degC',
    )  # fmt: skip
    one.add_argument(
        "--airflow", metavar="FACTOR", type=_ratio("a factor of at least 0, such as 0.5"),
        default=1.0, help="as in a profile, 0 is still air; default: 1",
    )  # fmt: skip
    one.add_argument(
        "--request", metavar="SHARE", type=_requests, default=1.0,
        help='of all channels, "80 %%", or of each, others dark, "red=40 %%,blue=1"; '
        'default: "100 %%"',
    )  # fmt: skip
    one.add_argument(
        "--against", metavar="LAMP2", type=_path, help="another lamp file to hold beside it"
    )
    one.add_argument("--out", metavar="DIR", type=_path, help="where to write the page and figures")
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")


def _spread_options(one: argparse.ArgumentParser) -> None:
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--units", metavar="N", type=_whole(1, MOST_UNITS), default=1000,
        help="how many units are drawn; default: 1000",
    )  # fmt: skip
    one.add_argument(
        "--profile", metavar="NAME|FILE", type=_name,
        help="a profile by name, or its file; default: the first",
    )  # fmt: skip
    one.add_argument(
        "--guard", metavar="K", default=3.0,
        type=_quantity("K", 'a temperature difference such as "3 K"', least=0.0),
        help='units nearer to a limit than this are counted, too; default: "3 K"',
    )  # fmt: skip
    where = one.add_mutually_exclusive_group()
    where.add_argument(
        "--workers", metavar="N", type=_whole(1, MOST_WORKERS), default=1,
        help="run in N processes of this machine; default: 1",
    )  # fmt: skip
    where.add_argument(
        "--cluster", metavar="ADDRESS", type=_name,
        help='run on the workers of the Dask scheduler there, "tcp://10.0.0.5:8786"',
    )  # fmt: skip
    one.add_argument("--out", metavar="DIR", type=_path, help="where to write page, figures, units")
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")
    one.add_argument(
        "--seed", metavar="N", type=_whole(0, LARGEST_SEED), default=0,
        help="of what is drawn and of noise; 0",
    )  # fmt: skip


def _tune_options(one: argparse.ArgumentParser) -> None:
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--profile", metavar="NAME|FILE", type=_name, action="append",
        help="a profile by name, or its file; several times for several; default: all",
    )  # fmt: skip
    one.add_argument(
        "--guard", metavar="K", type=_quantity("K", 'a difference such as "2 K"', least=0.0),
        help='kept to every limit; default: "1 K" where tolerances are tried, else "3 K"',
    )  # fmt: skip
    one.add_argument(
        "--step", metavar="SHARE", type=_ratio('a share such as "7.4 %"', most=1.0), default=0.074,
        help='largest change of light within a second; default: "7.4 %%", just noticeable',
    )  # fmt: skip
    one.add_argument(
        "--fall", metavar="SHARE", type=_ratio('a share such as "35 %"', most=1.0), default=1.0,
        help='deepest fall of light, however slow; default: any; half of people notice "15 %%"',
    )  # fmt: skip
    one.add_argument(
        "--least-light", metavar="SHARE", type=_ratio('a share such as "20 %"', most=1.0),
        default=0.0, help="no floor of the policy below this; default: none",
    )  # fmt: skip
    one.add_argument(
        "--keep", metavar="NAME,..", type=_names, default=(),
        help="settings that stay as they are, such as floor,hold",
    )  # fmt: skip
    one.add_argument(
        "--corners", metavar="WHICH", type=_one_of(CORNERS), default=CORNERS[0],
        help="of the tolerances: likely, 3 standard deviations out, the default; extreme; none",
    )  # fmt: skip
    one.add_argument(
        "--budget", metavar="S", type=_whole(1, 10**7), default=40,
        help="seconds for the search and its checks; 40",
    )  # fmt: skip
    one.add_argument(
        "--seed", metavar="N", type=_whole(0, LARGEST_SEED), default=0,
        help="of search, noise and drawn units; 0",
    )  # fmt: skip
    one.add_argument(
        "--resume", metavar="FILE", type=_path,
        help="keep what was tried in FILE, and go on from there if it exists",
    )  # fmt: skip
    one.add_argument("--write", action="store_true", help="put the settings into the lamp file")
    one.add_argument("--header", metavar="FILE", type=_path, help="write the settings for the C")
    one.add_argument("--out", metavar="DIR", type=_path, help="where to write the page and figures")
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")


def _worst_options(one: argparse.ArgumentParser) -> None:
    celsius = _quantity("degC", 'a temperature such as "40 degC"')
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--ambient", metavar=("LOW", "HIGH"), nargs=2, type=celsius,
        help="any air between these; default: what profiles and tolerances span",
    )  # fmt: skip
    one.add_argument(
        "--airflow", metavar=("LEAST", "MOST"), nargs=2,
        type=_ratio("a factor of at least 0, such as 0.5"),
        help="any airflow between these factors; default: the same",
    )  # fmt: skip
    one.add_argument(
        "--nominal", action="store_true",
        help="the lamp as described, without the corners of its tolerances",
    )  # fmt: skip
    one.add_argument("--out", metavar="DIR", type=_path, help="where to write page and figures")
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")


def _faults_options(one: argparse.ArgumentParser) -> None:
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--workers", metavar="N", type=_whole(1, MOST_WORKERS),
        help="try the faults in N processes; default: one a core",
    )  # fmt: skip
    one.add_argument("--out", metavar="DIR", type=_path, help="where to write page and figures")
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")
    one.add_argument(
        "--seed", metavar="N", type=_whole(0, LARGEST_SEED), default=0,
        help="of the units that are drawn and of noise; 0",
    )  # fmt: skip


def _firmware_options(one: argparse.ArgumentParser) -> None:
    one.add_argument("lamp", metavar="LAMP", type=_path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--target", metavar="NAME", type=_one_of(CORES), action="append",
        help=f"{', '.join(CORES)}; several times for several; default: all",
    )  # fmt: skip
    one.add_argument(
        "--clock", metavar="F", default=8e6,
        type=_quantity("Hz", 'a clock such as "8 MHz"', above=0.0),
        help='of the core, for the share of a control period; default: "8 MHz"',
    )  # fmt: skip
    one.add_argument(
        "--steps", metavar="N", type=_whole(1, 10**7),
        help="of the random walk, and at most of each profile; default: 40000, and all",
    )  # fmt: skip
    one.add_argument(
        "--export", metavar="DIR", type=_path,
        help="where to write sources, settings, a test of recorded steps and how to use them",
    )  # fmt: skip
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")


def unknown(what: str, found: str, known: Iterable[str], manual: str) -> str:
    """The sentence about a word that is not known."""
    return f'no {what} is called "{short(found)}"{_near(found, known)}; see `{manual}`'
