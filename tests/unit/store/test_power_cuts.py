"""A power cut at any step leaves all that a command does, or nothing; see tests/power_cuts.py.

`python -m tests.benchmarks.kill_study` does the same some hundred times.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest

from planner.paths import STORE_FILE
from planner.store.connection import connect
from tests.killing import COMMANDS, Command, prepare
from tests.power_cuts import study_power_cuts

CUTS = {"load": 4, "migration": 3, "undo": 4, "erase": 4, "restore": 4}

pytestmark = [
    pytest.mark.thorough,
    pytest.mark.skipif(sys.platform != "linux", reason="follows files by /proc"),
]


@pytest.mark.parametrize("name", CUTS)
def test_a_power_cut_leaves_all_or_nothing(name, prepared, tmp_path):
    rng = np.random.default_rng(len(name))
    found = study_power_cuts(prepared(name), CUTS[name], rng, tmp_path)
    assert found.faults == []
    assert found.left.total() == CUTS[name]


def in_place(folder):
    """Write into the file itself, as DuckDB does when it is let."""
    with connect(folder / STORE_FILE, read_only=False) as program:
        program.execute("update households set people_count = 5")
        program.execute("checkpoint")
    # a step to be cut off at
    (folder / "mark").touch()
    (folder / "mark").unlink()


def test_the_model_finds_a_file_that_is_written_in_place(tmp_path):
    given = prepare(Command("in place", COMMANDS["undo"].prepare, in_place), tmp_path)
    found = study_power_cuts(given, 8, np.random.default_rng(1), tmp_path)
    assert found.faults != []


def test_the_model_finds_a_file_that_is_renamed_before_it_is_on_the_disk(
    prepared, tmp_path, monkeypatch
):
    given = prepared("undo")
    monkeypatch.setattr("planner.store.files.sync_file", lambda _: None)
    found = study_power_cuts(given, 8, np.random.default_rng(1), tmp_path)
    assert found.faults != []
