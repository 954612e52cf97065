"""The one guard of text in cells and CSV files, and every writer that relies on it."""

from __future__ import annotations

import datetime as dt
import io

import openpyxl
import polars as pl
import pytest

from planner.cells import Number, csv_text, put_content, put_record, safe_text, writable_text
from planner.figures import Figure, FigureRegister
from planner.paths import FIGURES_TABLE_FILE
from planner.workbooks import records_workbook, sheet_name, workbook_bytes

RUN = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", "\u00a0=1", "＝1", "＋1",
       "－1", "＠A1", "\u200b=1", "\u3000+1", "\ufeff@A1"]  # fmt: skip
"""What OWASP ("CSV Injection", from memory) lists, wide signs, and white space before them."""

KEPT = ["Mill Lane", "1+1", "a=b", "O'Neil", "−1", "#N/A", "", "'=1"]


def sheet_of(book):
    content = io.BytesIO()
    book.save(content)
    return openpyxl.load_workbook(content).worksheets[0]


@pytest.mark.parametrize("text", RUN)
def test_text_that_would_run_stands_behind_an_apostrophe(text):
    assert safe_text(text) == f"'{text}"


@pytest.mark.parametrize("text", KEPT)
def test_other_text_stays_as_it_is(text):
    assert safe_text(text) == text


def test_characters_that_no_file_can_hold_are_dropped_before_the_guard_looks():
    assert writable_text("a\x00b\x1fc") == "abc"
    assert safe_text("\x00=1") == "'=1"


def test_text_longer_than_a_cell_is_cut():
    assert len(safe_text("=" * 40_000)) <= 32_767


@pytest.mark.parametrize("text", [*RUN, "#N/A"])
def test_a_cell_to_read_holds_text_of_type_string(text):
    book = openpyxl.Workbook()
    put_content(book.active["A1"], text)
    put_content(book.active["A2"], Number(None, words=text))
    cells = [sheet_of(book)["A1"], sheet_of(book)["A2"]]
    assert {cell.data_type for cell in cells} == {"s"}
    assert {cell.value.lstrip("'") for cell in cells} == {text}


@pytest.mark.parametrize("text", RUN)
def test_a_record_goes_back_as_it_came_and_is_marked_as_text(text):
    book = openpyxl.Workbook()
    put_record(book.active["A1"], text)
    cell = sheet_of(book)["A1"]
    assert (cell.data_type, cell.quotePrefix) == ("s", True)
    assert cell.value == text


def test_a_sheet_of_records_keeps_types_and_names_its_columns():
    day = dt.date(2026, 5, 4)
    rows = pl.DataFrame({"household_id": ["=H1", "H2"], "on_date": [day, None], "kg": [-0.5, 1.0]})
    (sheet,) = records_workbook({"answers": rows}).worksheets
    assert [cell.value for cell in sheet[1]] == rows.columns
    assert [cell.value for cell in sheet[2]] == ["=H1", day, -0.5]
    assert (sheet["A2"].data_type, sheet["B2"].number_format) == ("s", "yyyy-mm-dd")
    assert sheet.print_title_rows == "$1:$1"


@pytest.mark.parametrize("text", RUN)
def test_no_text_of_a_csv_file_is_run_and_numbers_stay_numbers(text):
    written = csv_text(pl.DataFrame({"found": [text], "amount": [-12.5]}))
    back = pl.read_csv(written.encode(), infer_schema=False)
    assert back["found"].item() == f"'{text}"
    assert back["amount"].item() == "-12.5"
    assert written.endswith("\r\n")


def test_the_table_of_figures_guards_labels_units_and_methods():
    register = FigureRegister("Town", "2026-27", "1")
    register.add(Figure("a", "+ bins", -1.0, None, None, "@unit", "=how"))
    row = pl.read_csv(register.contents()[FIGURES_TABLE_FILE], infer_schema=False).row(
        0, named=True
    )
    assert (row["label"], row["unit"], row["method"]) == ("'+ bins", "'@unit", "'=how")
    assert row["value"] == "-1.0"


def test_sheet_names_are_those_that_a_spreadsheet_program_takes():
    taken: set[str] = set()
    names = [sheet_name(wanted, taken) for wanted in ("A/B: [x]", "a b x", "'", "y" * 40)]
    assert names == ["A B x", "a b x 2", "Sheet", "y" * 31]


def test_a_workbook_is_the_same_to_the_byte_whenever_it_is_written():
    at = dt.datetime(2026, 5, 4)
    first, second = (
        workbook_bytes(records_workbook({"a": pl.DataFrame({"n": [1]})}), at) for _ in range(2)
    )
    assert first == second
