"""Small counts by hand: what a few households are told by, and what tells nothing of them."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import polars as pl
import pytest

from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report.disclosure.control import issue_end
from planner.report.disclosure.parts import (
    HIDDEN,
    STANDS,
    Span,
    hidden_by_change,
    shown_total,
    tell_of_few,
)
from planner.report.disclosure.times import (
    MONTH,
    TO_DATE,
    PublishedCells,
    changed_times,
    hidden_times,
    published_cells,
)

LEVEL = 10
D = dt.date


def month_figure(register, month, count):
    method = said(HIDDEN) if count is None else "Counted."
    register.put(f"{MONTH}[{month}]", "", count, "bins", method)
    return register


def counts_of(rows):
    columns = {"first": pl.Date, "before": pl.Date, "area_id": pl.String, "count": pl.Int64}
    return pl.DataFrame(rows, schema=columns, orient="row")


@pytest.mark.parametrize(("of_area", "is_told"), [(4, True), (0, False), (10, False)])
def test_a_few_bins_of_one_area_are_told_though_the_town_gave_many_on_those_days(of_area, is_told):
    """North gave 4 in the days before the grant began: 54 in the month less 50 of the grant."""
    begin, middle, end = D(2025, 7, 1), D(2025, 7, 10), D(2025, 8, 1)
    counts = counts_of(
        [
            (begin, middle, "north", of_area),
            (begin, middle, "south", 40),
            (middle, end, "north", 50),
            (middle, end, "south", 60),
        ]
    )
    published = [Span(("north",), begin, end), Span(("north",), middle, end)]
    assert tell_of_few(counts, published, [], LEVEL) == is_told


def test_where_the_sum_itself_changed_by_one_no_part_is_shown():
    """61 and 60 after 60 and 60: with either part shown the other is told by the sums."""
    now, before = {"a": 61.0, "b": 60.0}, {"a": 60.0, "b": 60.0}
    assert hidden_by_change(now, before, 120.0, set(), LEVEL) == {"a", "b"}


def test_a_count_that_stands_is_of_an_earlier_day_and_tells_no_change():
    issue = FigureRegister("Town", "2025-26", "1")
    issue.add(Figure("bins_given", "", 60.0, None, None, "bins", f"{said(STANDS)} Counted."))
    issue.add(Figure("bins_given_to_date", "", 60.0, None, None, "bins", "Counted."))
    assert shown_total(issue, "bins_given") is None
    assert shown_total(issue, "bins_given_to_date") == 60.0


@pytest.mark.parametrize(("first", "is_hidden"), [(9, True), (10, False), (0, False)])
def test_a_month_is_small_below_the_threshold_and_not_at_it(first, is_hidden):
    months = ("2025-07", "2025-08", "2025-09")
    hidden = hidden_times(months, (first, 40, 60), ("2025-26",) * 3, LEVEL)
    assert (f"{MONTH}[2025-07]" in hidden) == is_hidden


def test_what_one_report_shows_is_known_though_another_hides_it():
    shows, hides = (
        month_figure(FigureRegister("Town", "2025-26", "1"), "2025-07", count)
        for count in (40.0, None)
    )
    for reports in ([shows, hides], [hides, shows]):
        assert published_cells(reports) == PublishedCells(
            frozenset({f"{MONTH}[2025-07]"}), frozenset()
        )


def test_a_month_that_an_issue_did_not_cover_is_no_change_since():
    """The issue showed July alone; that August brought 5 more changes nothing that it said."""
    issue = month_figure(FigureRegister("Town", "2025-26", "1"), "2025-07", 60.0)
    bins = {"2025-07": 60.0, "2025-08": 5.0}
    assert changed_times(bins, dict.fromkeys(bins, "2025-26"), [issue], LEVEL) == frozenset()


@pytest.mark.parametrize(("late", "is_told"), [(3, True), (0, False), (10, False)])
def test_bins_to_date_count_the_years_own_months(late, is_told):
    issue = FigureRegister("Town", "2025-26", "1")
    issue.put(TO_DATE, "", 100.0, "bins", "Counted.")
    bins = {"2025-06": 50.0, "2025-07": 50.0 + late}
    years = {"2025-06": "2024-25", "2025-07": "2025-26"}
    sums = {f"{TO_DATE}[2025-26]"} if is_told else set()
    assert changed_times(bins, years, [issue], LEVEL) == sums


@pytest.mark.parametrize(
    ("through", "label", "end"),
    [
        ("2026-03-31", "2025-26", D(2026, 4, 1)),
        ("", "2025-26", D(2026, 7, 1)),
        ("", "1999-00", D.max),
    ],
    ids=["running", "whole", "a year that the program file no longer names"],
)
def test_an_issue_ends_before_the_day_after_its_last(through, label, end):
    program = SimpleNamespace(
        reporting_years=[SimpleNamespace(reporting_year="2025-26")],
        months=lambda _: (D(2025, 7, 1), D(2026, 7, 1)),
    )
    issue = SimpleNamespace(through_date=through, reporting_year=label)
    assert issue_end(issue, program) == end
