"""The command line as a user meets it, standing in a folder with lamp files."""

import pytest

from derate.cli import main
from derate.lamp import starter_text

SHORT_PROFILE = """
duration = "20 s"
ambient = "25 degC"
request = { flood = 1.0, spot = 0.5 }
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Where we stand: lamp.toml holds its limits, touchy.toml cannot, short.toml is a profile."""
    monkeypatch.chdir(tmp_path)
    lamp = starter_text().replace('body = "c"', 'body = "python"')
    touchy = lamp.replace('limit = "60 degC"', 'limit = "25.1 degC"')
    assert len({starter_text(), lamp, touchy}) == 3
    (tmp_path / "lamp.toml").write_text(lamp, encoding="utf-8")
    (tmp_path / "touchy.toml").write_text(touchy, encoding="utf-8")
    (tmp_path / "short.toml").write_text(SHORT_PROFILE, encoding="utf-8")
    return tmp_path


@pytest.fixture
def derate(capsys):
    """Call the command line: exit status, standard output, standard error."""

    def call(*words):
        try:
            status = main(list(words))
        except SystemExit as leaving:
            status = leaving.code
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return call
