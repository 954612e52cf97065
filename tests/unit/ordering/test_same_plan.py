"""The same plan comes out on an idle machine and on a busy one."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest

from planner.ordering import solving
from planner.ordering.request import Effort
from tests.unit.ordering.every_day import every_day_problem

HOG = "import sys\nsys.stdout.write('on'); sys.stdout.flush()\nwhile True: pass"
HOGS_COUNT = 3
FEW_NODES = Effort(0.0, 3)


def found():
    """Solve some problems with so few nodes that the limit ends most of them."""
    plans = [solving.solve(every_day_problem(seed), FEW_NODES) for seed in range(6)]
    return [None if one is None else replace(one, problem=None) for one in plans]


@pytest.mark.thorough
def test_a_search_with_little_work_finds_the_same_next_to_others_that_take_the_processor(
    monkeypatch,
):
    # small problems too have a first plan beside their bounds, each on a thread of its own
    monkeypatch.setattr(solving, "LARGE", 1)
    idle = found()
    hogs = [
        subprocess.Popen([sys.executable, "-c", HOG], stdout=subprocess.PIPE)
        for _ in range(HOGS_COUNT)
    ]
    try:
        for hog in hogs:
            assert hog.stdout.read(2) == b"on"
        busy = found()
    finally:
        for hog in hogs:
            hog.kill()
            hog.communicate()
    assert any(one is not None for one in idle)
    assert busy == idle
