"""Refused rows as a workbook that the officer corrects and loads again."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter

from planner.cells import put_record, writable_text
from planner.intake.cells import MOVED, TWICE, UNCLEAR, country, parsed
from planner.intake.contracts import CONTRADICTION, SHIFTED
from planner.intake.headings import REFUSAL_HEADING
from planner.intake.problems import causes_and_waiting, worded
from planner.intake.template import number_format
from planner.intake.vocabulary import columns_of_sheet
from planner.messages import in_each_language, in_english, say
from planner.tables import TABLES
from planner.workbooks import file_bytes, sheet_name

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

    from planner.intake.cells import Country
    from planner.intake.rows import Rows

COPIED_ROWS = 10_000
"""Rows of a sheet that are copied; nobody fixes more by hand, and writing takes a minute."""


@dataclass(frozen=True)
class Refused:
    """Rows of one sheet that are not taken in, and the cells because of which."""

    rows: Rows
    problems: pl.DataFrame


def copied_values(
    refused: list[Refused], cells: tuple[str, ...], country: Country
) -> Iterator[tuple[int, list[object]]]:
    """Take the refused rows as they were found, numbers and dates as what they are."""
    source = refused[0].rows.source
    numbers = _numbers(refused)
    found = source.cells.filter(pl.col("row_number").is_in(numbers.implode()))
    shown = found.select("row_number", pl.exclude("row_number").str.replace(r"[ T]00:00:00$", ""))
    for one in refused:
        shown = _with_unclear(_with_marks(shown, one), one.rows, country)
    read = {
        cell: column
        for one in refused
        for cell, column in _read(shown, one.rows, country).to_dict(as_series=True).items()
    }
    values = [read[cell].to_list() if cell in read else None for cell in cells]
    texts = shown.select("row_number", *cells).iter_rows()
    for place, (number, *row) in enumerate(texts):
        typed = [None if column is None else column[place] for column in values]
        yield (
            number,
            [text if value is None else value for text, value in zip(row, typed, strict=True)],
        )


def _numbers(refused: list[Refused]) -> pl.Series:
    """Rows that are copied."""
    numbers = pl.concat([one.problems["row_number"] for one in refused])
    return numbers.unique().sort().head(COPIED_ROWS)


def _measured(rows: Rows) -> dict[str, str]:
    """For each column of numbers or dates that the sheet has, the sheet's own column."""
    declared = TABLES[rows.table].columns()
    return {
        name: rows.headings.cells[name]
        for name in rows.columns
        if isinstance(declared[name], dy.Float64 | dy.Int64 | dy.Date)
    }


def _read(
    text: pl.DataFrame, rows: Rows, country: Country, *, has_number_cells: bool | None = None
) -> pl.DataFrame:
    """Read numbers and dates in the units of the headings; null where that cannot be."""
    way = rows.source.has_number_cells if has_number_cells is None else has_number_cells
    measured = _measured(rows)
    return text.rename({cell: name for name, cell in measured.items()}).select(
        parsed(rows.table, name, country, has_number_cells=way).alias(cell)
        for name, cell in measured.items()
    )


def _with_marks(text: pl.DataFrame, refused: Refused) -> pl.DataFrame:
    """Mark rows that would be read as good ones when the copy is loaded as it is."""
    headings = refused.rows.headings
    for reason, mark in ((SHIFTED, MOVED), (CONTRADICTION, TWICE)):
        hit = refused.problems.filter(pl.col("reason") == in_english(reason))
        for (name,), several in hit.group_by("column_name"):
            cell = headings.cells[str(name)]
            parts = [cell, *headings.beyond] if reason == SHIFTED else [cell]
            said = pl.concat_str(pl.lit(mark), *parts, separator=" ", ignore_nulls=True)
            is_hit = pl.col("row_number").is_in(several["row_number"].implode())
            text = text.with_columns(pl.when(is_hit).then(said).otherwise(cell).alias(cell))
    return text


def _with_unclear(text: pl.DataFrame, rows: Rows, country: Country) -> pl.DataFrame:
    """Mark numbers that a text file refuses and a workbook would read."""
    if rows.source.has_number_cells:
        return text
    as_text = _read(text, rows, country, has_number_cells=False)
    as_cells = _read(text, rows, country, has_number_cells=True)
    unclear = as_text.select(pl.all().is_null())
    changed = [
        pl.when(unclear[cell] & as_cells[cell].is_not_null())
        .then(pl.col(cell) + UNCLEAR)
        .otherwise(cell)
        .alias(cell)
        for cell in as_text.columns
    ]
    return text.with_columns(changed)


_AUTHOR = "planner"
_FONT, _INK, _MUTED = "Calibri", "263238", "8A8A85"
_MARK = PatternFill("solid", start_color="FFD59E")
_HEAD = PatternFill("solid", start_color="DDE5D3")
_COMMENT_WIDTH, _COMMENT_HEIGHT = 320, 120
_ORIGIN = r"^(?P<load_id>L\d+)(?:, sheet (?P<sheet>.*))?, row (?P<row_number>\d{1,9})$"


def refused_copy(refused: Sequence[Refused], load_id: str, locale: str) -> bytes:
    """Write the refused rows under their own headings, the offending cells marked.

    Numbers and dates that were read are written as such, so that they mean the same in
    the workbook; what was not read is written as it was found. Nothing is written that a
    spreadsheet would run.
    """
    book = Workbook(write_only=True)
    titles: set[str] = set()
    for _, several in groupby(sorted(refused, key=_sheet_of), key=_sheet_of):
        tables = list(several)
        rows = tables[0].rows
        sheet = book.create_sheet(sheet_name(rows.source.label or rows.table, titles))
        _write_sheet(sheet, tables, load_id, locale)
    return file_bytes(book)


def origins(rows: Rows) -> pl.DataFrame:
    """Tell which refusals the rows of a copy come from: load_id, sheet, row_number."""
    schema = {"load_id": pl.String, "sheet": pl.String, "row_number": pl.Int64}
    cell = rows.headings.refusal_cell
    if cell is None:
        return pl.DataFrame(schema=schema)
    read = rows.source.cells.join(rows.typed.select("row_number"), on="row_number", how="semi")
    parts = read.select(pl.col(cell).str.extract_groups(_ORIGIN).alias("origin")).unnest("origin")
    named = parts.filter(pl.col("load_id").is_not_null())
    return named.with_columns(pl.col("sheet").fill_null("")).cast(pl.Schema(schema)).unique()


def _sheet_of(refused: Refused) -> str:
    return refused.rows.sheet


def _write_sheet(
    sheet: WriteOnlyWorksheet, refused: list[Refused], load_id: str, locale: str
) -> None:
    rows = refused[0].rows
    known = in_each_language(REFUSAL_HEADING)
    texts = {cell: text for cell, text in rows.headings.texts.items() if text not in known}
    # the copy is another file: what is said of the sheet's every row has to stand in it
    of_sheet = {
        name: one.rows.headings.held[name]
        for one in refused
        for name in columns_of_sheet(one.rows.table)
        if name in one.rows.headings.held
    }
    headings = (*texts.values(), *of_sheet, say(REFUSAL_HEADING))
    for number, text in enumerate(headings, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = max(14, len(text) + 3)
    sheet.freeze_panes = "A3"
    sheet.append([_cell(sheet, say("refused_copy.title", file=rows.file))])
    sheet.append([_heading(sheet, text) for text in headings])
    formats = {
        cell: number_format(TABLES[one.rows.table].columns()[name], locale)
        for one in refused
        for name, cell in one.rows.headings.cells.items()
    }
    comments = _comments(refused)
    # read back by origins, so the same in every language
    where = f", sheet {rows.sheet}" if rows.sheet else ""
    for number, values in copied_values(refused, tuple(texts), country(locale)):
        cells = [
            _dressed(_cell(sheet, value), formats.get(cell, "@"), comments.get((number, cell)))
            for cell, value in zip(texts, values, strict=True)
        ]
        same = [_dressed(_cell(sheet, value), "@", None) for value in of_sheet.values()]
        sheet.append([*cells, *same, _muted(_cell(sheet, f"{load_id}{where}, row {number}"))])


def _comments(refused: list[Refused]) -> dict[tuple[int, str], str]:
    """Write, for each cell, what was found and what to write: by row and the sheet's column."""
    comments: dict[tuple[int, str], str] = {}
    numbers = _numbers(refused)
    told = pl.concat(causes_and_waiting(pl.concat([one.problems for one in refused])))
    told = worded(told.filter(pl.col("row_number").is_in(numbers.implode())))
    for one in refused:
        cells = one.rows.headings.cells
        of_table = told.filter(pl.col("table_name") == one.rows.table)
        for number, column, value, reason, expected in of_table.select(
            "row_number", "column_name", "value", "told", "expected"
        ).iter_rows():
            is_there = column in one.rows.columns
            place = (number, cells[column if is_there else one.rows.columns[0]])
            key = "refused_copy.found" if value else "refused_copy.found_nothing"
            found = say(key, found=value, reason=reason, expected=expected)
            found = found if is_there else f"{column}: {found}"
            comments[place] = f"{comments[place]}\n{found}" if place in comments else found
    return comments


def _cell(sheet: WriteOnlyWorksheet, value: object) -> WriteOnlyCell:
    cell = WriteOnlyCell(sheet)
    put_record(cell, value)
    return cell


def _heading(sheet: WriteOnlyWorksheet, text: str) -> WriteOnlyCell:
    cell = _cell(sheet, text)
    cell.font = Font(name=_FONT, color=_INK, bold=True)
    cell.fill = _HEAD
    return cell


def _muted(cell: WriteOnlyCell) -> WriteOnlyCell:
    cell.font = Font(name=_FONT, color=_MUTED, italic=True)
    return cell


def _dressed(cell: WriteOnlyCell, form: str, comment: str | None) -> WriteOnlyCell:
    cell.number_format = form
    cell.alignment = Alignment(vertical="top")
    if comment is not None:
        cell.fill = _MARK
        cell.comment = Comment(writable_text(comment), _AUTHOR, _COMMENT_HEIGHT, _COMMENT_WIDTH)
    return cell
