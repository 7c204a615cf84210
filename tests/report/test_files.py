"""Files of a run: all there, whole, and readable by others."""

import io
import json
import os
import time
from dataclasses import replace

import numpy as np
import pytest

from derate.errors import InputError, SurroundingsError
from derate.report import files
from derate.report.figures import KINDS
from derate.report.folder import gone_if_in_vain, place, place_new, prepare
from tests.report.invented import invented_trace

EIGHT_DIGITS = 5e-8
"""Columns are written with eight significant digits."""
CSV_BUDGET_S = 1.5
"""Asked for: 0.6 s for 36000 rows of 30 columns; the rest is for a busy machine."""


def test_every_file_is_written(held, tmp_path):
    """A folder that is made on the way gets summary, trace, page, and figures twice each."""
    folder = tmp_path / "a" / "b"
    written = files.write(held, folder)
    names = {"summary.json", "trace.csv", "report.html"}
    names |= {f"{kind.name}.{ending}" for kind in KINDS for ending in ("svg", "png")}
    assert {path.name for path in written} == names
    assert {path.name for path in folder.iterdir()} == names
    assert all(path.stat().st_size > 0 for path in written)


def test_written_twice_is_the_same(held, tmp_path):
    """A report regenerates byte for byte, over the old one."""
    first = {path.name: path.read_bytes() for path in files.write(held, tmp_path)}
    second = {path.name: path.read_bytes() for path in files.write(held, tmp_path)}
    assert first == second


def test_csv_has_the_columns_of_the_trace(held):
    """The head of the CSV is the trace's names, and its values are the trace's."""
    text = "".join(files.csv_of(held.trace))
    head, _ = text.split("\n", 1)
    assert tuple(head.split(",")) == held.trace.names
    table = np.genfromtxt(io.StringIO(text), delimiter=",", skip_header=1)
    assert table.shape == (len(held.trace), len(held.trace.names))
    for column, name in zip(table.T, held.trace.names, strict=True):
        np.testing.assert_allclose(column, held.trace[name], rtol=EIGHT_DIGITS)


def test_csv_is_fast():
    """An hour at ten ticks a second is written in the time of a breath."""
    trace = invented_trace(rows=36001)
    began_s = time.perf_counter()
    "".join(files.csv_of(trace))
    assert time.perf_counter() - began_s < CSV_BUDGET_S


def test_a_failure_leaves_no_half_file(tmp_path, monkeypatch):
    """When the last step fails, the old file stays and nothing else lies about."""
    path = tmp_path / "trace.csv"
    path.write_bytes(b"old")

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        place(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_is_no_folder(tmp_path):
    """A file in place of the folder, or on the way to it, is the user's mistake."""
    file = tmp_path / "out"
    file.write_text("mine")
    with pytest.raises(InputError, match="is a file, and a folder is due"):
        prepare(file)
    with pytest.raises(InputError, match="lies in something that is no folder"):
        prepare(file / "below")
    assert file.read_text() == "mine"


def test_a_folder_is_no_file(tmp_path):
    """A folder that bears the name of a file to write is refused."""
    (tmp_path / "trace.csv").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        place(tmp_path / "trace.csv", b"")


def test_a_folder_that_may_not_be_written(tmp_path, monkeypatch):
    """A folder without permission is a matter of the surroundings."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(SurroundingsError, match="cannot be written: permission denied"):
        prepare(tmp_path)


def test_all_files_or_none(held, tmp_path, monkeypatch):
    """When the last file cannot be made, the older run in the folder stays whole."""
    before = {path.name: path.read_bytes() for path in files.write(held, tmp_path)}

    def failing(*_):
        raise SurroundingsError("no room")

    monkeypatch.setattr(files, "page", failing)
    newer = replace(held, profile_name="another")
    with pytest.raises(SurroundingsError, match="no room"):
        files.write(newer, tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_the_summary_comes_last(held, tmp_path, monkeypatch):
    """Who finds a summary.json finds the rest of its run beside it."""
    order, real = [], os.replace

    def noted(source, target):
        order.append(target.name)
        real(source, target)

    monkeypatch.setattr(os, "replace", noted)
    files.write(held, tmp_path)
    assert len(order) > 1
    assert order[-1] == "summary.json"


def test_names_that_are_not_utf8(held, tmp_path):
    """A name of a file with a byte that is no UTF-8 is written as an escape."""
    odd = held.provenance | {"lamp_file": "\udcff.toml", "command": "derate run \udcff.toml"}
    files.write(replace(held, provenance=odd), tmp_path)
    assert json.loads((tmp_path / "summary.json").read_text())["provenance"]["lamp_file"] == (
        r"\udcff.toml"
    )
    assert r"derate run \udcff.toml" in (tmp_path / "report.html").read_text()


def test_a_name_too_long_for_a_folder(tmp_path):
    """A name that the file system refuses is told, not thrown."""
    with pytest.raises(SurroundingsError, match="name too long"):
        prepare(tmp_path / ("n" * 300))


def test_a_new_file_never_covers_another(tmp_path):
    """A file that is there already stays as it is, and nothing lies about."""
    path = tmp_path / "mine.toml"
    place_new(path, b"first")
    with pytest.raises(FileExistsError):
        place_new(path, b"second")
    assert path.read_bytes() == b"first"
    assert list(tmp_path.iterdir()) == [path]


def test_empty_new_folders_go_again(tmp_path):
    """Work that fails takes the folders it made along, but none that was there or holds a file."""
    (tmp_path / "old").mkdir()
    wanted = [tmp_path / "a" / "b", tmp_path / "old", tmp_path / "full"]

    def work():
        with gone_if_in_vain(wanted):
            for folder in wanted:
                prepare(folder)
            (tmp_path / "full" / "file").write_text("kept")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        work()
    assert {path.name for path in tmp_path.iterdir()} == {"old", "full"}
