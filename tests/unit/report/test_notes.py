"""Which year is reported by default."""

import datetime as dt
from types import SimpleNamespace

import polars as pl
import pytest

from planner.errors import ProgramError, ReportError
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS, TEMPLATES
from planner.program import read_program
from planner.report.notes import as_shipped, choose_year, temperatures_as_shipped
from planner.starting import sample_towns

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


def test_settings_nobody_has_changed_are_named():
    shipped = read_program(TEMPLATES / PROGRAM_FILE)
    label = shipped.reporting_years[0].reporting_year
    (note,) = as_shipped(shipped, label)
    assert "name of the council, budget, landfill levy" in note
    ours = shipped.council.model_copy(update={"name": "Brackwell (invented)"})
    (note,) = as_shipped(shipped.model_copy(update={"council": ours}), label)
    assert "name of the council" not in note
    assert "gate fee" in note
    assert "monthly temperatures" in note
    (note,) = temperatures_as_shipped(shipped)
    assert "example's monthly temperatures." in note


@pytest.mark.parametrize("town", sample_towns())
def test_the_samples_are_towns_of_their_own(town):
    program = read_program(SAMPLE_PROGRAMS / town / PROGRAM_FILE)
    for year in program.reporting_years:
        assert as_shipped(program, year.reporting_year) == ()
    assert temperatures_as_shipped(program) == ()
