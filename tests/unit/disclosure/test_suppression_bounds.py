"""A search for what to hide that grows too long hides all that may be hidden, and never less."""

from __future__ import annotations

import numpy as np
import pytest

from planner import whole_programs
from planner.figures import FigureRegister
from planner.report.disclosure import suppression
from planner.report.disclosure.suppression import CountTable, suppress, too_close
from planner.report.disclosure.times import changed_times, hidden_times


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


@pytest.mark.parametrize(("is_impossible", "expected"), [(False, PARTS), (True, {"p0"})])
def test_a_search_without_an_answer_hides_all_unless_it_proved_that_there_is_none(
    monkeypatch, is_impossible, expected
):
    answer = whole_programs.IntegerSolution(None, np.inf, is_impossible, "")
    monkeypatch.setattr(whole_programs, "least_integer", lambda *_, **__: answer)
    assert suppress(TABLE, {"p0"}, 10) == expected


MONTHS = (*(f"2025-{month:02}" for month in range(7, 13)), "2026-01")


@pytest.mark.parametrize(("late", "is_shown"), [(0, True), (1, False), (24, True)])
def test_a_page_of_a_part_of_the_year_tells_no_few_late_bins_beside_the_issue(late, is_shown):
    bins = dict(zip(MONTHS, (50.0, 60.0, 45.0, 70.0, 55.0, 40.0, 65.0), strict=True))
    issue = FigureRegister("Town", "2025-26", "1")
    for month, count in {**bins, "2026-02": 50.0}.items():
        issue.put(f"bins_given_in_month[{month}]", "Bins", count, "bins", "By hand.", ())
    for name in ("bins_given", "bins_given_to_date"):
        issue.put(name, "Bins", sum(bins.values()) + 50.0, "bins", "By hand.", ())
    now = {**bins, "2025-10": bins["2025-10"] + late}
    years = dict.fromkeys(now, "2025-26")
    changed = changed_times(now, years, [issue], 24)
    hidden = hidden_times(list(now), list(now.values()), list(years.values()), 24, None, changed)
    # the issue's months up to the page's day, from the page's own sums
    for name in ("bins_given[2025-26]", "bins_given_to_date[2025-26]"):
        assert (name not in hidden) == is_shown
    assert ("bins_given_in_month[2025-10]" not in hidden) == is_shown
