"""The command line answers at once, and as a program of its own."""

import subprocess
import sys
import time
from pathlib import Path

from derate import __version__

ROOT = Path(__file__).parents[2]
HEAVY = ("numpy", "numba", "matplotlib", "pint", "pydantic", "scipy", "pandas", "rich", "jinja2")
HELP_S = 0.3
"""Asked of `derate --help` on an idle machine; best of five, so that a busy one passes too."""


def python(*words, **more):
    """Run python with the package at hand."""
    words = [sys.executable, *words]
    return subprocess.run(words, cwd=ROOT, capture_output=True, text=True, **more)


def test_help_imports_nothing_heavy():
    """Help is printed without any of the large libraries."""
    code = (
        "import sys\n"
        "from derate.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = python("-c", code)
    assert done.stderr == "[]\n"
    assert done.stdout.startswith("usage: derate")


def test_words_need_no_pictures():
    """Demo lamps are read, and points and runs told, without the libraries that draw figures and
    know rare units."""
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "import derate.report.point_summary, derate.report.point_terminal, derate.study.point\n"
        "import derate.report.summary, derate.report.terminal\n"
        "from derate.lamp import load\n"
        "for path in Path('sims').glob('*.toml'):\n    load(path)\n"
        "print([name for name in ('matplotlib', 'pint', 'jinja2') if name in sys.modules])"
    )
    done = python("-c", code)
    assert (done.stdout, done.stderr) == ("[]\n", "")


def test_help_is_quick():
    """Help is there within 0.3 s."""
    times_s = []
    for _ in range(5):
        began_s = time.perf_counter()
        python("-m", "derate", "--help", check=True)
        times_s.append(time.perf_counter() - began_s)
    assert min(times_s) < HELP_S


def test_as_a_module():
    """`python -m derate` is the same program, with the same exit status."""
    assert python("-m", "derate", "--version").stdout == f"derate {__version__}\n"
    done = python("-m", "derate", "rnu")
    assert (done.returncode, done.stdout) == (2, "")
    assert (
        done.stderr == 'derate: no command is called "rnu", nearest is "run"; see `derate --help`\n'
    )


def test_help_of_each_command():
    """Every command explains itself, and names its options as the parser knows them."""
    from derate.arguments import parser
    from derate.cli import COMMANDS

    for name, command in parser(COMMANDS).commands.items():
        assert "--help" in command.options
        done = python("-m", "derate", name, "--help", check=True)
        for option in command.options:
            assert option in done.stdout
