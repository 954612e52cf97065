"""The officer's empty workbook, made from planner.tables: a sheet a table, ready to fill."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import babel
import dataframely as dy
from babel.dates import get_date_format
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.pagebreak import Break

from planner.cells import safe_text
from planner.intake.cells import country, plain_words
from planner.intake.layout import EXAMPLE_WORD
from planner.intake.sheets import GUIDE_SHEETS, LISTS_SHEET
from planner.intake.vocabulary import MODEL_COLUMN, words_for_codes
from planner.messages import officer_messages, say, set_language
from planner.tables import FIRST_DATE, LAST_DATE, TABLES, codes, references
from planner.tables.fields import declared_unit

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.program import Program

PERSONAL = "personal"
"""Part that begins a new page in print, so that its heading does not stand alone."""

_STEPS_COUNT, _CAUTIONS_COUNT = 6, 3


def guide_lines() -> list[tuple[str, str, str]]:
    """List the lines of the guide: kind (title, line, or a part's name), left cell, right cell."""
    lines = [("title", say("intake_book.title"), ""), ("line", "", "")]
    lines.append(("steps", say("intake_book.part.steps"), ""))
    lines += [
        ("line", str(number), say(f"intake_book.step.{number}", example=EXAMPLE_WORD))
        for number in range(1, _STEPS_COUNT + 1)
    ]
    lines += [("line", "", ""), ("sheets", say("intake_book.part.sheets"), "")]
    lines += [("line", table, f"{one_row(table)} {say(f'table.{table}.when')}") for table in TABLES]
    lines += [("line", "", ""), (PERSONAL, say("intake_book.part.personal"), "")]
    lines += [
        ("line", "", say(f"intake_book.caution.{number}"))
        for number in range(1, _CAUTIONS_COUNT + 1)
    ]
    return lines


def one_row(table: str) -> str:
    """Say what one row of a table is.

    Examples
    --------
    >>> one_row("handovers")
    'One row: one bin given to a household.'
    """
    return say("intake_book.one_row", meaning=say(f"table.{table}.one_row"))


MEANING_ROW, HEADING_ROW, EXAMPLE_ROW = 1, 2, 3
LAST_CHECKED_ROW = 5000
LISTED_TABLES = (
    *("areas", "events", "drop_points", "waves", "suppliers", "offers", "orders"),
    *("sites", "workshops"),
)
"""Short tables whose keys are offered as a drop-down list where they are referred to."""

_INK, _SOIL, _LEAF, _PAPER, _MUTED = "263238", "4E4A40", "DDE5D3", "F6F4EF", "8A8A85"
_OPEN = "FFF4CC"
_FONT = "Calibri"
_GUIDE_LINE_LENGTH, _LINE_HEIGHT = 88, 14.5
_EXAMPLE_DATE = dt.date(2025, 3, 4)
PAGE_WIDTH = 140
"""Letters across one landscape page that can still be read when it is fitted."""


@cache
def _examples() -> dict[str, str]:
    """Read what the example row shows in columns of text; its first cell says that it is one."""
    with Path(__file__).with_name("examples.csv").open(encoding="utf-8", newline="") as file:
        return {row["column"]: row["example"] for row in csv.DictReader(file)}


def write_intake_workbook(
    path: Path | io.BytesIO, program: Program, begun: Mapping[str, pl.DataFrame] | None = None
) -> None:
    """Write the workbook that a program's records are typed into.

    Meanings stand above the headings; coded columns, yes and no, and bin models have
    drop-down lists; one grey example row a sheet is never loaded.

    Parameters
    ----------
    begun
        For each table that is wanted, records begun, whose empty cells are to be filled in; an
        empty sheet for every table unless given.
    """
    set_language(program.council.country_locale)
    book = Workbook()
    guide = book.active
    guide.title = GUIDE_SHEETS[officer_messages().language]
    _write_guide(guide)
    lists = book.create_sheet(LISTS_SHEET)
    lists.sheet_state = "hidden"
    for table in begun or TABLES:
        _write_table(book.create_sheet(table), lists, table, program)
        if begun:
            _write_begun(book[table], begun[table], program)
    book.move_sheet(lists, len(begun or TABLES))
    if begun:
        book.remove(guide)
    for sheet in book:
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
    book.save(path)


def _write_guide(sheet: Worksheet) -> None:
    sheet.sheet_view.showGridLines = False
    sheet.column_dimensions["A"].width = 24
    sheet.column_dimensions["B"].width = 96
    for kind, left, right in guide_lines():
        sheet.append([left, right])
        if kind == PERSONAL:
            sheet.row_breaks.append(Break(id=sheet.max_row - 1))
        first, second = sheet[sheet.max_row]
        second.alignment = Alignment(wrap_text=True, vertical="top")
        first.alignment = Alignment(vertical="top")
        lines = max(1, math.ceil(len(right) / _GUIDE_LINE_LENGTH))
        title = 1.5 if kind == "title" else 1
        sheet.row_dimensions[sheet.max_row].height = (lines * _LINE_HEIGHT + 2) * title
        first.font = Font(
            name=_FONT, color=_INK, bold=True, size={"title": 16, "line": 11}.get(kind, 12)
        )
        second.font = Font(name=_FONT, color=_INK)
        if kind not in ("title", "line"):
            first.fill = second.fill = PatternFill("solid", start_color=_LEAF)


def _write_table(sheet: Worksheet, lists: Worksheet, table: str, program: Program) -> None:
    locale = program.council.country_locale
    models = [model.model_id for model in program.bin_models]
    for number, (name, declared) in enumerate(TABLES[table].columns().items(), start=1):
        letter = get_column_letter(number)
        choices = _choices(table, name, locale, models)
        _dress(sheet, number, table, name, locale)
        example = EXAMPLE_WORD if number == 1 else _example(name, declared, choices)
        cell = sheet.cell(EXAMPLE_ROW, number, example)
        cell.font = Font(name=_FONT, color=_MUTED, italic=True)
        cell.number_format = number_format(declared, locale)
        cell.alignment = _alignment(declared)
        check = _check(table, name, _listed(lists, choices), locale)
        if check is not None:
            check.add(f"{letter}{EXAMPLE_ROW}:{letter}{LAST_CHECKED_ROW}")
            sheet.add_data_validation(check)
    sheet.row_dimensions[MEANING_ROW].height = _meaning_height(sheet)
    widths = [column.width for column in sheet.column_dimensions.values()]
    sheet.page_setup.fitToWidth = math.ceil(sum(widths) / PAGE_WIDTH)
    sheet.print_title_rows = f"{MEANING_ROW}:{HEADING_ROW}"
    sheet.print_title_cols = f"A:{get_column_letter(len(TABLES[table].primary_key()))}"
    sheet.freeze_panes = sheet.cell(EXAMPLE_ROW, 2)


def _write_begun(sheet: Worksheet, records: pl.DataFrame, program: Program) -> None:
    """Write records begun in place of the example row, with a light ground where cells are open."""
    locale = program.council.country_locale
    words = {name: words_for_codes(name, officer_messages().language) for name in records.columns}
    contract = TABLES[sheet.title].columns()
    for row, record in enumerate(records.iter_rows(named=True), start=EXAMPLE_ROW):
        for number, (name, value) in enumerate(record.items(), start=1):
            shown = words[name].get(value, value)
            cell = sheet.cell(row, number)
            cell.value = safe_text(shown) if isinstance(shown, str) else shown
            cell.font = Font(name=_FONT, color=_INK)
            cell.number_format = number_format(contract[name], locale)
            cell.alignment = _alignment(contract[name])
            if value is None and not contract[name].nullable:
                cell.fill = PatternFill("solid", start_color=_OPEN)


def _meaning_height(sheet: Worksheet) -> float:
    """Give the longest meaning the lines that it takes in its column."""
    lines = [
        math.ceil(len(str(cell.value)) / sheet.column_dimensions[cell.column_letter].width) + 1
        for cell in sheet[MEANING_ROW]
    ]
    return float(max(62.0, max(lines) * 11.5))


def _dress(sheet: Worksheet, number: int, table: str, name: str, locale: str) -> None:
    """Write meaning and heading of a column, its width and its format."""
    declared = TABLES[table].columns()[name]
    unit = declared_unit(declared)
    in_unit = f" [{_unit_in_words(unit)}]" if unit else ""
    empty = f" ({say('intake_book.may_stay_empty')})" if declared.nullable else ""
    meaning = sheet.cell(MEANING_ROW, number, f"{say(f'column.{table}.{name}')}{in_unit}{empty}")
    meaning.font = Font(name=_FONT, color=_SOIL, size=9)
    meaning.fill = PatternFill("solid", start_color=_PAPER)
    meaning.alignment = Alignment(wrap_text=True, vertical="bottom")
    heading = sheet.cell(HEADING_ROW, number, name)
    heading.font = Font(name=_FONT, color=_INK, bold=True)
    heading.fill = PatternFill("solid", start_color=_LEAF)
    heading.border = Border(bottom=Side("thin", color=_SOIL))
    column = sheet.column_dimensions[get_column_letter(number)]
    column.width = max(14, len(name) + 3)
    column.number_format = number_format(declared, locale)
    column.alignment = _alignment(declared)


def _unit_in_words(unit: str) -> str:
    return unit if unit in ("kg", "°C") else say(f"intake_book.unit.{unit.replace(' ', '_')}")


def _alignment(declared: dy.Column) -> Alignment:
    """Keep numbers off the text of the next column."""
    is_right = isinstance(declared, dy.Float64 | dy.Int64 | dy.Date)
    return Alignment(horizontal="right", indent=1) if is_right else Alignment()


def number_format(declared: dy.Column, locale: str) -> str:
    """Write the spreadsheet format of a column: texts as texts, dates as the country does.

    Examples
    --------
    >>> from planner.tables import TABLES
    >>> number_format(TABLES["costs"].columns()["cost_date"], "de_DE")
    'dd.mm.yyyy'
    """
    if isinstance(declared, dy.Date):
        pattern = get_date_format("short", locale=babel.Locale.parse(locale)).pattern
        day = re.sub("d+", "dd", pattern.strip(" ."))
        return re.sub("y+", "yyyy", re.sub("M+", "mm", day))
    if isinstance(declared, dy.Float64 | dy.Int64 | dy.Bool):
        return "General"
    return "@"


def _choices(table: str, column: str, locale: str, models: list[str]) -> list[str]:
    declared = TABLES[table].columns()[column]
    if isinstance(declared, dy.Bool):
        language = babel.Locale.parse(locale).language
        yes, no = ((plain_words(kind, language) or plain_words(kind, "en"))[0]
                   for kind in ("yes", "no"))  # fmt: skip
        return [yes, no if no != "falso" else "no"]
    if column == MODEL_COLUMN:
        return models
    words = words_for_codes(column, babel.Locale.parse(locale).language)
    return [words.get(code, code) for code in codes(table, column)]


def _listed(lists: Worksheet, choices: list[str]) -> str:
    """Put choices in a column of the hidden sheet, once, and return where they stand."""
    if not choices:
        return ""
    number = 1
    while lists.cell(1, number).value is not None:
        column = [lists.cell(row, number).value for row in range(1, len(choices) + 2)]
        if column == [*choices, None]:
            break
        number += 1
    for row, choice in enumerate(choices, start=1):
        lists.cell(row, number, choice)
    letter = get_column_letter(number)
    return f"{LISTS_SHEET}!${letter}$1:${letter}${len(choices)}"


def _check(table: str, column: str, listed: str, locale: str) -> DataValidation | None:
    declared = TABLES[table].columns()[column]
    if listed:
        check = DataValidation("list", formula1=f"={listed}", allow_blank=True)
        check.error = say("intake_book.choose")
    elif references(table).get(column) in LISTED_TABLES:
        target = references(table)[column]
        rows = f"$A${EXAMPLE_ROW + 1}:$A${LAST_CHECKED_ROW}"
        return DataValidation("list", formula1=f"={target}!{rows}", showErrorMessage=False)
    elif isinstance(declared, dy.Date):
        check = DataValidation("date", operator="between", allow_blank=True)
        check.formula1, check.formula2 = (
            str((day - dt.date(1899, 12, 30)).days) for day in (FIRST_DATE, LAST_DATE)
        )
        years = {"first": str(FIRST_DATE.year), "last": str(LAST_DATE.year)}
        check.error = say("intake_book.date_between", **years)
    elif isinstance(declared, dy.Int64 | dy.Float64):
        kind = "whole" if isinstance(declared, dy.Int64) else "decimal"
        check = DataValidation(kind, operator="between", allow_blank=True)
        low, high = declared.min or 0, declared.max or 0
        check.formula1, check.formula2 = str(low), str(high)
        signs = country(locale)
        ends = {"low": signs.grouped(low), "high": signs.grouped(high)}
        check.error = say("intake_book.number_between", **ends)
    else:
        return None
    check.showErrorMessage = True
    return check


def _example(name: str, declared: dy.Column, choices: list[str]) -> object:
    if choices:
        return choices[0]
    if isinstance(declared, dy.Date):
        return _EXAMPLE_DATE
    if name.startswith("prior_"):
        return 0.2
    if isinstance(declared, dy.Int64 | dy.Float64):
        return 1
    # a code is its own text in every language
    return officer_messages().text(_examples().get(name, EXAMPLE_WORD))
