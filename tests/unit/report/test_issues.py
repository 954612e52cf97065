"""Issues: their numbers, which of them counts, and the chain by which a changed one is seen."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict

import polars as pl
import pytest

from planner.figures import FigureRegister
from planner.paths import FIGURES_FILE, ISSUE_FILE, PROGRAM_FILE
from planner.report import issues
from planner.report.issues import altered_issues, begin_issue, digest, issued_registers, newest_of
from planner.store.issued import record_issue
from tests.queries.given import store_with
from tests.unit.checks.test_checks import PROGRAM
from tests.unit.report.test_restating import NOON, issue_of

OF_NOTHING = digest(issues.FACTORS / "none")


def write(folder, number, previous):
    """Write an issue that holds nothing but its manifest."""
    nothing = {"program_file": OF_NOTHING, "factors": OF_NOTHING}
    issue = issue_of(number=number, previous=previous, **nothing)
    place = folder / issue.place
    place.mkdir(parents=True)
    (place / ISSUE_FILE).write_text(json.dumps(asdict(issue)), encoding="utf-8")
    return issue, digest(place / ISSUE_FILE)


@pytest.fixture
def chain(tmp_path):
    """Three issues, and what the records noted of them."""
    found, mark = [], ""
    for number in (1, 2, 3):
        issue, mark = write(tmp_path, number, mark)
        found.append((issue, mark))
    rows = [(one.number, one.name, mark) for one, mark in found]
    noted = pl.DataFrame(rows, schema=["number", "name", "manifest_sha256"], orient="row")
    return tmp_path, [one for one, _ in found], noted


def test_a_chain_as_it_was_written_is_whole(chain):
    assert altered_issues(*chain) == {}


def test_a_manifest_that_was_changed_is_seen_in_itself_and_in_the_next(chain):
    folder, there, noted = chain
    path = folder / there[0].place / ISSUE_FILE
    path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert list(altered_issues(folder, there, noted)) == [1, 2]
    # without the note the next one alone tells
    assert list(altered_issues(folder, there)) == [2]


def test_the_last_manifest_is_held_to_the_note_of_it(chain):
    folder, there, noted = chain
    path = folder / there[2].place / ISSUE_FILE
    path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert list(altered_issues(folder, there, noted)) == [3]


def test_an_issue_that_was_taken_away_is_seen(chain):
    folder, there, noted = chain
    assert list(altered_issues(folder, there[:2], noted)) == [3]


def test_the_newest_issue_of_a_year_to_the_same_day_counts():
    first, second = (issue_of(number=number) for number in (1, 2))
    other = issue_of(number=3, through_date="2026-03-31")
    register = FigureRegister("Town", "2025-26", "1")
    assert newest_of([first, second, other], register) is second
    assert newest_of([other], register) is None


def test_of_many_issues_the_newest_are_compared(tmp_path, monkeypatch):
    monkeypatch.setattr(issues, "ISSUES_COMPARED", 2)
    there = [issue_of(number=number) for number in (1, 2, 3, 4)]
    for one in there[:3]:
        made = FigureRegister("Town", one.reporting_year, "1")
        made.put("bins_given", "Bins", float(one.number), "bins", "Counted.")
        (tmp_path / one.place).mkdir(parents=True)
        (tmp_path / one.place / FIGURES_FILE).write_text(made.to_json(), encoding="utf-8")
    found = issued_registers(tmp_path, there)
    assert [one["bins_given"].value for one in found] == [2.0, 3.0]


def test_a_number_that_was_given_out_is_not_given_again_though_its_folder_is_gone(tmp_path):
    (tmp_path / PROGRAM_FILE).write_text(PROGRAM, encoding="utf-8")
    with store_with(tmp_path, {}) as store:
        record_issue(store, 7, "0007_2025-26", "mark", NOON)
        made = begin_issue(
            tmp_path, store, FigureRegister("Town", "2025-26", "1"), dt.date(2026, 7, 1)
        )
    assert (made.number, made.previous) == (8, "")
