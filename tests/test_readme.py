"""The README's tour is run, in order, as a newcomer would."""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

README = (Path(__file__).parents[1] / "README.md").read_text()
BLOCKS = re.findall(r"```(sh|python)\n(.*?)```", README, re.DOTALL)


@pytest.mark.slow
def test_the_tour_runs(tmp_path):
    """Every shell line and the Python block of the README succeed, one after the other."""
    assert len(BLOCKS) >= 4
    environment = os.environ | {"PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"}
    for language, block in BLOCKS:
        if language == "python":
            commands = [[sys.executable, "-c", block]]
        else:
            commands = [
                [sys.executable, "-m", *shlex.split(line)] for line in block.strip().splitlines()
            ]
        for command in commands:
            done = subprocess.run(
                command, cwd=tmp_path, env=environment, capture_output=True, text=True
            )
            assert done.returncode == 0, (command, done.stdout, done.stderr)
            if "evening" in done.stdout and "run" in command:
                assert "Held: housing 46.1 degC, 13.9 K below its limit." in done.stdout
    assert (tmp_path / "report" / "report.html").exists()


def test_the_mistake_in_the_readme_is_told_that_way(tmp_path, capsys, monkeypatch):
    """The sentence the README shows is the one the program prints."""
    from derate.cli import main
    from derate.lamp import starter_text

    shown = re.search(r"    (derate: my_lamp.toml: .*)", README).group(1)
    right, wrong = 'current = "1 A"\njunction_limit', "current = 1\njunction_limit"
    monkeypatch.chdir(tmp_path)
    Path("my_lamp.toml").write_text(starter_text().replace(right, wrong))
    assert main(["check", "my_lamp.toml"]) == 2
    assert capsys.readouterr().err.strip() == shown
