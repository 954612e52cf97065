"""Two reports of one year tell no small change: an attacker tries every whole number.

The attacker's side is written here: every way in which the parts of the first report may have
changed is gone through, and those that what both reports show rules out are dropped.
"""

from __future__ import annotations

import datetime as dt
import itertools
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.figures import Figure, FigureRegister
from planner.messages import in_english
from planner.program import Privacy
from planner.report.disclosure import control
from planner.report.disclosure.parts import (
    STANDS,
    hidden_by_change,
    is_from_earlier_issue,
    shown_parts,
    with_issued_areas,
)
from planner.report.disclosure.times import hidden_areas
from planner.report.issues import Issue
from planner.store.opening import open_store
from planner.store.queries import read_query
from planner.store.undoing import undo_load
from planner.store.writing import writing
from planner.tables import TABLES
from tests.prose import HIDDEN
from tests.queries.given import frame

pytestmark = pytest.mark.thorough

LEVEL = 3
"""A low threshold keeps the ways that the attacker tries few."""


def table(given):
    """Make counts of areas in which each household was served once, in this year."""
    return pl.DataFrame(
        {
            "area_id": list(given),
            "households_served_in_year": list(given.values()),
            "households_served_to_date": list(given.values()),
            "bins_given_in_year": list(given.values()),
            "bins_given_to_date": list(given.values()),
        }
    )


class Issued:
    """What an issue shows, as a register gives it."""

    def __init__(self, given, hidden):
        self.shown = {area: None if area in hidden else float(n) for area, n in given.items()}
        self.total = float(sum(given.values()))

    def parts(self, _):
        return {area: Value(count) for area, count in self.shown.items()}

    def __contains__(self, _):
        return True

    def __getitem__(self, _):
        return Value(self.total)


class Value:
    """A figure's value, counted on the day of the issue."""

    method = "Counted."

    def __init__(self, value):
        self.value = value


def possible_changes(before, hidden_before, now, hidden_now):
    """List the changes of all areas that fit what both reports show; counts only grow."""
    areas, most = list(before), sum(now.values())
    shown_now = {area: now[area] for area in areas if area not in hidden_now}
    shown_before = {area: before[area] for area in areas if area not in hidden_before}
    found = []
    for first in itertools.product(range(most + 1), repeat=len(hidden_before)):
        was = {**shown_before, **dict(zip(sorted(hidden_before), first, strict=True))}
        if sum(was.values()) != sum(before.values()):
            continue
        for second in itertools.product(range(most + 1), repeat=len(hidden_now)):
            is_now = {**shown_now, **dict(zip(sorted(hidden_now), second, strict=True))}
            fits = sum(is_now.values()) == most
            if fits and all(is_now[area] >= was[area] for area in areas):
                found.append([is_now[area] - was[area] for area in areas])
    return np.array(found)


@pytest.mark.parametrize("seed", range(60))
def test_no_small_change_of_an_area_is_bounded_more_closely_than_the_threshold(seed):
    rng = np.random.default_rng(seed)
    before = dict(zip("abcd", rng.integers(0, 9, 4).tolist(), strict=True))
    grown = rng.integers(0, 5, 4) * rng.integers(0, 2, 4)
    now = {area: before[area] + int(more) for area, more in zip(before, grown, strict=True)}
    if 0 < sum(grown) < LEVEL:
        return  # such a report is not given out at all
    privacy = Privacy.model_construct(small_cell_threshold=LEVEL)
    hidden_before = hidden_areas(table(before), privacy)
    issue = Issued(before, hidden_before)
    hidden_now = hidden_areas(table(now), privacy, [issue])
    assert hidden_before <= hidden_now
    ways = possible_changes(before, hidden_before, now, hidden_now)
    for place, area in enumerate(before):
        change = now[area] - before[area]
        if 0 < change < LEVEL:
            assert area in hidden_now
            assert np.ptp(ways[:, place]) >= LEVEL or hidden_now == set(before)


def test_the_attacker_finds_what_is_not_protected():
    before, now = {"a": 20, "b": 20, "c": 20}, {"a": 21, "b": 24, "c": 20}
    ways = possible_changes(before, frozenset(), now, frozenset({"a"}))
    assert ways[:, 0].tolist() == [1]


def test_an_unchanged_report_hides_no_more():
    counts = {"a": 20, "b": 30, "c": 40}
    privacy = Privacy(small_cell_threshold=10)
    assert hidden_areas(table(counts), privacy, [Issued(counts, ())]) == frozenset()


def test_a_part_that_was_hidden_stays_hidden():
    assert hidden_by_change({"a": 50.0, "b": 60.0}, {"a": None, "b": 60.0}, None, set(), 10) == {
        "a"
    }


def test_every_table_of_households_is_counted():
    """A new table of households whose rows enter a figure belongs in the query."""
    reads = set(read_query("changed_households").reads)
    of_households = {
        name
        for name, schema in TABLES.items()
        if "household_id" in schema.columns() and name != "contacts"
    }
    assert of_households <= reads, (
        f"add {sorted(of_households - reads)} to queries/summary/changed_households.sql: it counts "
        "the households of which two reports tell by their difference"
    )


@pytest.mark.parametrize(("weeks", "households", "is_told"), [(30, 1, True), (1, 30, False)])
def test_a_load_taken_back_after_an_issue_counts_by_households_not_rows(
    tmp_path, monkeypatch, weeks, households, is_told
):
    """Thirty weeks of one household are the records of one, though they are thirty rows."""
    monday = dt.date(2025, 1, 6)
    names = [f"H{number}" for number in range(households)]
    rows = [
        {"household_id": name, "week_start_date": monday + dt.timedelta(weeks=week)}
        for name in names
        for week in range(weeks)
    ]
    noon = dt.datetime(2026, 7, 1, 12)
    for table, made in (("households", [{"household_id": n} for n in names]), ("weighings", rows)):
        with open_store(tmp_path) as store, writing(store, written_at=noon) as writer:
            writer.write(writer.begin_load(table, table), table, frame(table, made))
    one = Issue(1, "2026-07-01", "2025", "", "1", 10, 1, "", "", {"L0001": "", "L0002": ""}, {})
    monkeypatch.setattr(control, "read_issues", lambda _: (one,))
    monkeypatch.setattr(control, "issued_registers", lambda *_: ())
    monkeypatch.setattr(control, "issue_end", lambda *_: dt.date(2026, 1, 1))
    program = SimpleNamespace(privacy=SimpleNamespace(small_cell_threshold=10))

    def told():
        with open_store(tmp_path, read_only=True) as store:
            made = control.open_control(tmp_path, store, program, dt.date(2026, 1, 1))
        return [found.table for found in made.told]

    assert told() == []
    undo_load(tmp_path, "L0002", noon)
    assert told() == [control.UNDONE] * is_told


def report_of(areas, method="Counted.", year="2025"):
    made = FigureRegister("Town", year, "1")
    for area, count in areas.items():
        how = method if count is not None else HIDDEN
        made.add(Figure(f"bins_given[{area}]", area, count, None, None, "bins", how))
    return made


def test_what_may_not_be_shown_anew_stands_as_it_was_given_out():
    issue = report_of({"a": 20.0, "b": 30.0, "c": None})
    now = report_of({"a": None, "b": 45.0, "c": None})
    found = with_issued_areas(now, [issue], "abc")
    assert [figure.value for figure in found] == [20.0, 45.0, None]
    assert [is_from_earlier_issue(figure) for figure in found] == [True, False, False]
    # an issue of another year is of other counts
    assert with_issued_areas(now, [report_of({"a": 9.0}, year="2024")], "abc") is now


def test_a_figure_that_stands_tells_nothing_of_its_own_day():
    """Counts that stand do not add up to the total of the issue, so no change follows from them."""
    issue = with_issued_areas(
        report_of({"a": None, "b": 45.0}), [report_of({"a": 20.0, "b": 30.0})], "ab"
    )
    assert shown_parts(issue, "bins_given") == {"a": None, "b": 45.0}
    again = with_issued_areas(report_of({"a": None, "b": 46.0}), [issue], "ab")
    assert [figure.method.count(in_english(STANDS)) for figure in again] == [1, 0]
