"""The words of ``derate challenge``."""

import argparse
from collections.abc import Sequence

from derate.typed import names, one_of, path, quantity, ratio, whole

FAULTS = {
    "open": "sensor open",
    "short": "sensor short",
    "stuck": "sensor stuck",
    "airflow": "airflow",
    "interface": "interface degraded",
    "channel": "channel stuck on",
}
"""Words of --faults, and the events of a profile that they stand for."""


def challenge_options(
    one: argparse.ArgumentParser, corners: Sequence[str], largest_seed: int
) -> None:
    """Give the command its options."""
    one.add_argument("lamp", metavar="LAMP", type=path, help="a lamp file, lamp.toml")
    one.add_argument(
        "--ambient", metavar=("LOW", "HIGH"), nargs=2,
        type=quantity("degC", 'a temperature such as "40 degC"'),
        help='air between "10 degC" and "40 degC"; default: as profiles and tolerances span it',
    )  # fmt: skip
    one.add_argument(
        "--airflow", metavar=("LOW", "HIGH"), nargs=2,
        type=ratio("a factor of at least 0, such as 0.5", most=100.0),
        help="as in a profile, 0 is still air; default: as profiles and tolerances span it",
    )  # fmt: skip
    one.add_argument(
        "--faults", metavar="KIND,..", type=_faults, default=(),
        help=f"what may befall the lamp: {', '.join(FAULTS)}; default: nothing",
    )  # fmt: skip
    one.add_argument(
        "--corners", metavar="WHICH", type=one_of(corners), default=corners[0],
        help="of the tolerances: likely, 3 standard deviations out, the default; extreme; none",
    )  # fmt: skip
    one.add_argument(
        "--guard", metavar="K", default=0.0,
        type=quantity("K", 'a difference such as "2 K"', least=0.0),
        help='a margin below this is a counterexample; default: "0 K"',
    )  # fmt: skip
    one.add_argument(
        "--light", action="store_true", help="a visible step or hunting is a counterexample, too"
    )
    one.add_argument(
        "--effort", metavar="N", type=whole(1, 10**7), default=120,
        help="histories to try besides those that practitioners fear; 120",
    )  # fmt: skip
    one.add_argument(
        "--budget", metavar="S", type=whole(1, 10**7),
        help="end after so many seconds with the worst so far; default: never",
    )  # fmt: skip
    one.add_argument("--first", action="store_true", help="end with the first counterexample")
    one.add_argument(
        "--seed", metavar="N", type=whole(0, largest_seed), default=0,
        help="of search and noise; 0",
    )  # fmt: skip
    one.add_argument(
        "--out", metavar="DIR", type=path, help="where to write page, profile, unit and run"
    )
    one.add_argument("--json", action="store_true", help="print one JSON document, nothing else")


def _faults(text: str) -> tuple[str, ...]:
    """Kinds of faults with commas between them."""
    return tuple(FAULTS[one_of(tuple(FAULTS))(word)] for word in names(text))
