"""Which year is reported by default."""

import datetime as dt
from types import SimpleNamespace

import polars as pl
import pytest

from planner.errors import ProgramError, ReportError
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.report.notes import choose_year

PROGRAM = read_program(TEMPLATES / PROGRAM_FILE)


def store(latest: dt.date | None) -> SimpleNamespace:
    frame = pl.DataFrame({"latest_date": [latest]}, schema={"latest_date": pl.Date})
    return SimpleNamespace(query=lambda _: frame)


def test_a_year_may_be_written_with_a_stroke() -> None:
    assert choose_year(store(None), PROGRAM, "2026/27") == "2026-27"


def test_an_unknown_year_names_those_there_are() -> None:
    with pytest.raises(ProgramError, match="found 2026, the program file has 2026-27"):
        choose_year(store(None), PROGRAM, "2026")


def test_a_date_beyond_all_years_takes_the_newest_year_that_has_begun() -> None:
    assert choose_year(store(dt.date(2035, 1, 1)), PROGRAM, None) == "2026-27"


def test_records_before_every_year_are_an_error() -> None:
    with pytest.raises(ReportError, match="before every reporting year"):
        choose_year(store(dt.date(2020, 1, 1)), PROGRAM, None)


def test_a_year_of_which_only_days_are_recorded_is_not_the_newest() -> None:
    with pytest.raises(ReportError, match="has a month recorded whole"):
        choose_year(store(dt.date(2026, 4, 14)), PROGRAM, None)


def test_no_record_is_an_error() -> None:
    with pytest.raises(ReportError, match="load spreadsheets first"):
        choose_year(store(None), PROGRAM, None)
