"""A search for what to hide that grows too long hides all that may be hidden, and never less."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import optimize

from planner.report.disclosure import suppression
from planner.report.disclosure.audit import CountTable, too_close
from planner.report.disclosure.suppression import suppress


def made(counts):
    """Set out parts and their sum, which stays."""
    groups = (*(f"p{n}" for n in range(len(counts))), "all")
    values = np.array([*counts, sum(counts)], dtype=float)
    return CountTable(groups, values, np.array([[*np.ones(len(counts)), -1.0]]), frozenset({"all"}))


TABLE = made([4, 30, 50, 70, 90])
PARTS = frozenset(TABLE.groups[:-1])


def test_what_is_hidden_when_the_work_runs_out_is_everything_but_what_stays(monkeypatch):
    assert suppress(TABLE, {"p0"}, 10) == {"p0", "p1"}
    monkeypatch.setattr(suppression, "PROGRAMS_MOST", 1)
    hidden = suppress(TABLE, {"p0"}, 10)
    assert hidden == PARTS
    assert too_close(TABLE, hidden, 10) == []


@pytest.mark.parametrize(("status", "expected"), [(1, PARTS), (4, PARTS), (2, {"p0"})])
def test_a_search_without_an_answer_hides_all_unless_it_proved_that_there_is_none(
    monkeypatch, status, expected
):
    answer = SimpleNamespace(x=None, status=status)
    monkeypatch.setattr(optimize, "milp", lambda *_, **__: answer)
    assert suppress(TABLE, {"p0"}, 10) == expected
