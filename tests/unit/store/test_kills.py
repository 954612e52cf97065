"""Commands killed at random moments leave all they do, or nothing; see tests/killing.py.

`python -m tests.benchmarks.kill_study` does the same some hundred times.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest

from tests.kill_points import WORDS, WRITES_NOTHING, commands, follow
from tests.killing import COMMANDS, study

KILLS = {
    "load": 2,
    "migration": 2,
    "undo": 1,
    "erase": 2,
    "restore": 2,
    "backup": 1,
    "issue": 1,  # writes a report on its way
}

pytestmark = [
    pytest.mark.thorough,
    pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there"),
]


@pytest.mark.parametrize("name", KILLS)
def test_a_killed_command_leaves_all_or_nothing(name, prepared, tmp_path):
    rng = np.random.default_rng(len(name))
    found = study(prepared(name), KILLS[name], rng, tmp_path)
    assert found.faults == []
    assert found.left.total() == KILLS[name]


def test_every_command_is_killed():
    assert {*KILLS, "report"} == set(COMMANDS)
    # the study kills each of the command line; a new one must say how it is run or that it reads
    assert commands() == {*WORDS, *WRITES_NOTHING}


@pytest.mark.parametrize("name", ["new", "guide"])
def test_a_first_command_puts_each_file_in_its_place_whole(name, tmp_path):
    run = follow(name, WORDS[name], tmp_path)
    assert run.written_in_place == set()
    assert [path for path in tmp_path.rglob("*") if path.is_file()]
