"""Whatever a file holds, its rows add up or one clear error says why; the store is unharmed.

Laws: rows loaded, repeated, skipped and refused add up to the rows there; what was good
keeps its contract; nothing but the program's own errors comes out; a file that was taken
in twice changes nothing.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from tempfile import TemporaryDirectory

import openpyxl
import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from planner.errors import IntakeError
from planner.intake.cells import country
from planner.intake.reading import read_files
from planner.intake.wording import advice
from planner.loading import load_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.store.opening import open_store
from planner.tables import TABLES
from tests.benchmarks.fuzz_intake import LOCALES, broken_files, check_reading, sheets_of_cells

PROGRAM = read_program(TEMPLATES / PROGRAM_FILE)
QUIET = settings(max_examples=40)
FATES = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")


@pytest.mark.thorough
@QUIET
@given(broken_files())
def test_any_bytes_are_read_or_refused_in_one_message(file):
    assert check_reading(PROGRAM, *file) in ("read", "refused")


@settings(QUIET, max_examples=15)
@given(sheets_of_cells())
def test_any_cells_under_right_headings_add_up(file):
    assert check_reading(PROGRAM, *file) in ("read", "refused")


def test_the_study_takes_an_example_alone_among_calls_to_be_made_for_an_example():
    """Its outcome is empty, as that of a call to be made, and it counts as nothing."""
    names = TABLES["calls"].column_names()
    content = "\n".join([",".join(names), ",".join(["example", *[""] * (len(names) - 1)]), ""])
    assert check_reading(PROGRAM, "calls.csv", content.encode()) == "read"


@pytest.mark.thorough
@QUIET
@given(st.lists(st.lists(st.sampled_from(["", "a", "1", "total", "x y"]), max_size=5), max_size=6))
def test_every_row_of_a_workbook_is_there(rows):
    with TemporaryDirectory() as place:
        path = Path(place) / "costs.xlsx"
        book = openpyxl.Workbook()
        book.active.append(TABLES["costs"].column_names())
        for row in rows:
            book.active.append([cell or None for cell in row])
        book.save(path)
        (file,) = read_files([path], PROGRAM, lambda _: pl.DataFrame())
    while rows and not any(rows[-1]):
        rows = rows[:-1]
    assert file.sheets[0].rows_read == len(rows)


CONTROL_CHARACTER = (
    "areas.csv",
    b"area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    b"kerbside_service,is_priority\nA1,North,k`\x11x,1,1,9,residual_only,no\n",
)
"""A refused value that no spreadsheet file can hold as it is."""


@pytest.mark.thorough
@settings(QUIET, max_examples=12)
@example(CONTROL_CHARACTER, CONTROL_CHARACTER)
@given(sheets_of_cells(), sheets_of_cells())
def test_the_store_keeps_what_it_had_and_a_second_load_changes_nothing(first, second):
    with TemporaryDirectory() as place:
        folder = Path(place)
        shutil.copy(TEMPLATES / PROGRAM_FILE, folder)
        paths = []
        for number, (name, content) in enumerate((first, second)):
            path = folder / f"{number} {name}"
            path.write_bytes(content)
            paths.append(path)
        before = None
        for _ in range(2):
            for path in paths:
                _load(folder, path)
            with open_store(folder, read_only=True) as store:
                now = [store.records(table) for table in TABLES]
            if before is not None:
                assert all(was.equals(then) for was, then in zip(before, now, strict=True))
            before = now


def _load(folder, path):
    try:
        result = load_files(folder, [path])
    except IntakeError:
        return
    counts = result.files[0].counts
    fates = counts.select(pl.sum_horizontal(f"{fate}_count" for fate in FATES)).to_series()
    assert fates.to_list() == counts["rows_read"].to_list()


@QUIET
@given(st.sampled_from(LOCALES), st.lists(st.text(max_size=12), min_size=1, max_size=20))
@pytest.mark.parametrize("column", ["amount", "cost_date", "category"])
def test_advice_is_a_sentence_for_any_text(column, locale, texts):
    found = pl.Series("value", texts, dtype=pl.String)
    told = pl.DataFrame({"value": found}).select(advice("costs", column, country(locale), found))
    assert all(text.endswith((".", "?")) for text in told.to_series())


def test_a_workbook_of_every_kind_of_cell_adds_up(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "costs"
    book.active.append(["cost_id", "cost_date", "category", "amount"])
    for value in (1, -1.5, 1e308, True, "x" * 5000, "=1/0", "#REF!", None, "\u200b", "２"):
        book.active.append([value, value, value, value])
    path = tmp_path / "costs.xlsx"
    book.save(path)
    (file,) = read_files([path], PROGRAM, lambda _: pl.DataFrame())
    assert file.sheets[0].good().is_empty()
