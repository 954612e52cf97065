"""Programs with whole variables are solved, refused where impossible, and without a word."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import highspy._core
import numpy as np
import pytest

import planner
from planner.whole_programs import least_integer

SEARCH = """
import numpy as np
from planner.ordering.linear_program import Program, RowName
from planner.ordering.request import Effort
from planner.ordering.searching import run_search
from planner.whole_programs import least_integer

for seed in range(3):
    rng = np.random.default_rng(seed)
    worth, weights = rng.uniform(5.0, 60.0, 60), rng.uniform(1.0, 40.0, (7, 60))
    kinds, most = np.arange(60) % 3 < 2, rng.uniform(0.5, 5.0, 60)
    room = 0.3 * (weights @ most)
    assert least_integer(-worth, [(weights, -np.inf, room)], 0.0, most, kinds).values is not None
    program = Program()
    columns = program.add_columns(60, -worth, 0.0, most)
    program.is_integer[0][:] = kinds
    for row, limit in zip(weights, room, strict=True):
        program.add_row(RowName("room"), columns, row, upper=float(limit))
    assert run_search(program, Effort(0.0, 500)).values is not None
"""


def test_a_search_prints_nothing_whatever_the_solver_does():
    done = subprocess.run([sys.executable, "-c", SEARCH], capture_output=True, check=True)
    assert (done.stdout, done.stderr) == (b"", b"")


def test_the_solver_is_none_of_those_that_print_a_line_of_their_makers():
    """HiGHS 1.12 does, and so does the copy of it in scipy 1.17; 1.13 does not."""
    line = b"transformNewIntegerFeasibleSolution tmpSolver.run();"
    assert line not in Path(highspy._core.__file__).read_bytes()
    sources = Path(planner.__file__).parent.rglob("*.py")
    assert [one.name for one in sources if " milp" in one.read_text("utf-8")] == []


def test_a_knapsack_known_by_hand_is_filled():
    # weights 3, 4, 5 into 9: worth 4, 5, 6 each once; the last two, 11, beat any other pair
    found = least_integer([-4.0, -5.0, -6.0], [(np.array([3.0, 4.0, 5.0]), -np.inf, 9.0)], 0, 1, 1)
    assert found.values == pytest.approx([0.0, 1.0, 1.0])
    assert found.gap_share == pytest.approx(0.0, abs=1e-4)


def test_what_may_be_split_fills_the_rest():
    found = least_integer([-4.0, -5.0, -6.0], [(np.array([3.0, 4.0, 5.0]), -np.inf, 9.0)], 0, 1)
    # best by weight first: 4 / 3, 5 / 4, then what is left of 2 of the last
    assert found.values == pytest.approx([1.0, 1.0, 0.4])


def test_rows_that_no_values_keep_are_told_apart_from_a_search_that_ended():
    never = least_integer([1.0, 1.0], [(np.array([2.0, 2.0]), 3.0, 3.0)], 0, 5, 1)
    assert never.values is None
    assert never.is_impossible
    rng = np.random.default_rng(1)
    sizes = rng.integers(1, 100, (3, 22)).astype(float)
    total = sizes @ (np.arange(22) % 2)
    ended = least_integer(np.ones(22), [(sizes, total, total)], 0, 1, 1, mip_max_nodes=1)
    assert ended.values is not None or not ended.is_impossible
