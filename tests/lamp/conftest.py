"""The starter lamp, loaded once from a file."""

import pytest

from derate.lamp import load, starter_text


@pytest.fixture(scope="session")
def starter(tmp_path_factory):
    """The lamp of the starter file."""
    path = tmp_path_factory.mktemp("starter") / "starter.toml"
    path.write_text(starter_text(), encoding="utf-8")
    return load(path)
