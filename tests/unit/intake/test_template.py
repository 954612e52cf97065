"""The empty workbook has every column, offers the codes, and its example is never loaded."""

from __future__ import annotations

import datetime as dt
import re

import openpyxl
import polars as pl
import pytest

from planner.intake.reading import read_files
from planner.intake.template import EXAMPLE_ROW, HEADING_ROW, PAGE_WIDTH, write_intake_workbook
from planner.intake.vocabulary import vocabulary, words_for_codes
from planner.tables import TABLES, codes


@pytest.fixture(scope="module")
def written(tmp_path_factory, program):
    path = tmp_path_factory.mktemp("intake") / "intake.xlsx"
    write_intake_workbook(path, program)
    return path


@pytest.fixture(scope="module")
def book(written):
    return openpyxl.load_workbook(written)


def lists(book, sheet):
    """Drop-down choices by column letter."""
    found = {}
    for check in book[sheet].data_validations.dataValidation:
        if check.type == "list" and check.formula1.startswith("=lists!"):
            cells = book["lists"][check.formula1.removeprefix("=lists!").replace("$", "")]
            cells = cells if isinstance(cells, tuple) else ((cells,),)
            found[str(check.sqref).split(":")[0][0]] = tuple(row[0].value for row in cells)
    return found


@pytest.mark.parametrize("table", TABLES)
def test_headings_are_the_columns_of_the_table(book, table):
    headings = [cell.value for cell in book[table][HEADING_ROW]]
    assert headings == TABLES[table].column_names()
    assert all(cell.value for cell in book[table][HEADING_ROW - 1])
    assert book[table].freeze_panes == f"B{EXAMPLE_ROW}"


@pytest.mark.parametrize("table", TABLES)
def test_coded_columns_offer_their_codes(book, table):
    offered = lists(book, table)
    for number, name in enumerate(TABLES[table].column_names()):
        if codes(table, name):
            assert offered[chr(ord("A") + number)] == codes(table, name)


def test_bin_models_are_offered(book, program):
    letter = chr(ord("A") + TABLES["handovers"].column_names().index("model_id"))
    models = tuple(model.model_id for model in program.bin_models)
    assert lists(book, "handovers")[letter] == models


@pytest.mark.parametrize("table", TABLES)
def test_the_example_shows_values_of_the_columns_and_its_key_cell_marks_it(book, table):
    shown = [cell.value for cell in book[table][EXAMPLE_ROW]]
    assert shown[0] == "example"
    assert "example" not in shown[1:]
    assert all(value is not None for value in shown)


@pytest.mark.parametrize("table", TABLES)
def test_a_sheet_is_printed_wide_enough_to_read_with_its_headings_on_each_page(book, table):
    sheet = book[table]
    width = sum(column.width for column in sheet.column_dimensions.values())
    assert width / sheet.page_setup.fitToWidth <= PAGE_WIDTH
    assert sheet.print_title_rows == "$1:$2"


def test_limits_are_told_in_the_countrys_numbers(tmp_path, program):
    council = program.council.model_copy(update={"country_locale": "de_DE"})
    path = tmp_path / "intake.xlsx"
    write_intake_workbook(path, program.model_copy(update={"council": council}))
    checks = openpyxl.load_workbook(path)["areas"].data_validations.dataValidation
    assert "Write a number from 0 to 5.000.000." in {check.error for check in checks}


def test_numbers_do_not_touch_the_text_beside_them(book):
    cell = book["costs"][EXAMPLE_ROW][3]
    assert (cell.alignment.horizontal, cell.alignment.indent) == ("right", 1)


def test_the_guide_comes_first_and_the_lists_are_hidden(book):
    assert book.sheetnames[0] == "Read me first"
    assert book["lists"].sheet_state == "hidden"
    guide = " ".join(str(cell.value) for row in book["Read me first"] for cell in row)
    assert all(table in guide for table in TABLES)


def test_the_empty_workbook_loads_as_nothing_without_a_note(written, program):
    (file,) = read_files([written], program, nothing)
    assert {rows.table for rows in file.sheets} == set(TABLES)
    assert all(rows.good().is_empty() for rows in file.sheets)
    assert all(rows.rows_read == rows.skipped_count == 0 for rows in file.sheets)
    assert file.problems().is_empty()
    assert file.notes == ()


def test_a_row_typed_under_the_example_is_taken_in(book, written, program):
    sheet = book["waves"]
    sheet.append(["W1", "baseline", "01/03/2025", "31/03/2025"])
    filled = written.with_name("filled.xlsx")
    book.save(filled)
    (file,) = read_files([filled], program, nothing)
    (rows,) = [rows for rows in file.sheets if rows.table == "waves"]
    assert rows.good()["row_number"].to_list() == [EXAMPLE_ROW + 1]


def nothing(table):
    return pl.DataFrame(schema=dict.fromkeys(TABLES[table].primary_key(), pl.String))


SAME_WORD = {"absent"}
"""Codes that are French words already."""


@pytest.mark.parametrize(("locale", "guide"), [("fr_FR", "À lire en premier"), ("es_ES", "Léame")])
def test_another_country_reads_the_workbook_in_its_language_and_loads_it(
    tmp_path, program, locale, guide
):
    council = program.council.model_copy(update={"country_locale": locale})
    there = program.model_copy(update={"council": council})
    path = tmp_path / "intake.xlsx"
    write_intake_workbook(path, there)
    book = openpyxl.load_workbook(path)
    assert book.sheetnames[0].startswith(guide)
    english = re.compile(r"\b(the|of|and|which|household|empty|day)\b")
    said = [cell.value for sheet in book for cell in sheet[1] if sheet.sheet_state == "visible"]
    said += [cell.value for row in book[book.sheetnames[0]] for cell in row[1:]]
    assert not [text for text in said if text and english.search(str(text))]
    # every word that its lists offer is read as the code it stands for
    for table in TABLES:
        for column in TABLES[table].column_names():
            words = words_for_codes(column, locale[:2])
            assert set(codes(table, column)) - set(words) <= SAME_WORD
            read = vocabulary(there).read(column)
            frame = pl.DataFrame({column: list(words.values())}, schema={column: pl.String})
            assert frame.select(read)[column].to_list() == list(words)
    sheet = book["waves"]
    offered = lists(book, "waves")["B"]
    sheet.append(["W1", offered[0], dt.date(2026, 3, 1), dt.date(2026, 3, 31)])
    book.save(path)
    (file,) = read_files([path], there, nothing)
    (rows,) = [rows for rows in file.sheets if rows.table == "waves"]
    assert rows.good()["wave_kind"].to_list() == ["baseline"]
    assert file.notes == ()
