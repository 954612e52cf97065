"""Rows of a sheet: which are to be read, and what their cells say."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.cells import parsed
from planner.intake.country import TOTAL_WORDS
from planner.intake.problems import no_problems, problems, record_key
from planner.intake.wording import advice, expected, not_read_reason
from planner.tables import TABLES

if TYPE_CHECKING:
    from planner.intake.country import Country
    from planner.intake.headings import Headings
    from planner.intake.sheets import Sheet

EXAMPLE_WORD = "example"
"""First cell of the row that only shows how to fill a sheet."""

_LISTED_ROWS = 5


@dataclass(frozen=True)
class Context:
    """What reading needs to know of the program.

    Attributes
    ----------
    country
        How numbers, dates, yes and no are written.
    currency
        Three letters after ISO 4217.
    model_ids
        Bin models of the program file.
    """

    country: Country
    currency: str
    model_ids: tuple[str, ...]


@dataclass(frozen=True)
class Rows:
    """Rows of one sheet on their way in.

    Attributes
    ----------
    table, file, sheet
        Record table; names of file and sheet.
    columns
        Columns of the table that the sheet has.
    text, typed
        ``row_number`` and the columns: as written, and of the contract's types with
        columns that are not there as nulls.
    problems
        Cells that stop their row.
    rows_read, skipped_count, repeated_count
        All rows below the headings; blank, total and example rows; identical repeats.
    notes
        What the officer should know though nothing needs mending.
    """

    table: str
    file: str
    sheet: str
    columns: tuple[str, ...]
    text: pl.DataFrame
    typed: pl.DataFrame
    problems: pl.DataFrame
    rows_read: int
    skipped_count: int
    repeated_count: int
    notes: tuple[str, ...]

    @property
    def place(self) -> dict[str, str]:
        """Name table, file and sheet as problems do."""
        return {"table_name": self.table, "file": self.file, "sheet": self.sheet}

    def good(self) -> pl.DataFrame:
        """Rows without a problem: ``row_number`` and every column of the table."""
        return self.typed.join(self.problems.select("row_number"), on="row_number", how="anti")

    def cells(self, column: str) -> pl.DataFrame:
        """Row number, record key and what is written in a column."""
        written = pl.col(column) if column in self.columns else pl.lit(None, dtype=pl.String)
        shown = written.str.replace(r"[ T]00:00:00$", "").alias("value")
        keyed = self.typed.select("row_number", record_key(self.table))
        return self.text.select("row_number", shown).join(keyed, on="row_number", how="left")


def read_rows(sheet: Sheet, headings: Headings, context: Context) -> Rows:
    """Read the rows below the headings of a sheet."""
    below = sheet.cells.filter(pl.col("row_number") > headings.row_number)
    kept, notes = _without_passed_over(sheet, headings, below)
    named = [pl.col(cell).alias(name) for name, cell in headings.cells.items()]
    columns = [name for name in TABLES[headings.table].column_names() if name in headings.cells]
    text = kept.select("row_number", *named).select("row_number", *columns)
    rows = Rows(
        table=headings.table,
        file=sheet.file,
        sheet=sheet.name,
        columns=tuple(columns),
        text=text,
        typed=_typed(text, headings.table, context, has_number_cells=sheet.has_number_cells),
        problems=no_problems(),
        rows_read=below.height,
        skipped_count=below.height - kept.height,
        repeated_count=0,
        notes=tuple(notes),
    )
    return _with_shifted(_with_unread(rows, context), sheet, headings)


def _without_passed_over(
    sheet: Sheet, headings: Headings, below: pl.DataFrame
) -> tuple[pl.DataFrame, list[str]]:
    """Leave out blank rows, rows of totals and the example."""
    cells = pl.exclude("row_number")
    first = pl.coalesce(cells).str.to_lowercase().str.strip_chars(" :").alias("first_cell")
    columns = [pl.col(cell) for cell in headings.cells.values()]
    filled = below.filter(pl.any_horizontal(column.is_not_null() for column in columns))
    marked = filled.with_columns(first)
    is_total = pl.col("first_cell").is_in(TOTAL_WORDS)
    is_example = pl.col("first_cell") == EXAMPLE_WORD
    totals = marked.filter(is_total)["row_number"].to_list()
    notes = [f"{sheet.place}, row {row}: a total, not read." for row in totals[:_LISTED_ROWS]]
    if len(totals) > _LISTED_ROWS:
        notes.append(f"{sheet.place}: {len(totals)} rows of totals in all, not read.")
    if headings.unknown:
        listed = ", ".join(headings.hint(heading) for heading in headings.unknown)
        notes.append(f"{sheet.place}: no such column in {headings.table}, not read: {listed}.")
    return marked.filter(~is_total & ~is_example).drop("first_cell"), notes


def _typed(
    text: pl.DataFrame, table: str, context: Context, *, has_number_cells: bool
) -> pl.DataFrame:
    schema = TABLES[table]
    columns = [
        parsed(table, name, context.country, has_number_cells=has_number_cells).alias(name)
        if name in text.columns
        else pl.lit(None, dtype=schema.columns()[name].dtype).alias(name)
        for name in schema.column_names()
    ]
    return text.select("row_number", *columns)


def _with_unread(rows: Rows, context: Context) -> Rows:
    """Name the cells that hold something that could not be read."""
    found = [rows.problems]
    for column in rows.columns:
        is_unread = rows.text[column].is_not_null() & rows.typed[column].is_null()
        if not is_unread.any():
            continue
        unread = rows.cells(column).filter(is_unread)
        wanted = expected(rows.table, column, context.country, context.currency)
        instead = advice(rows.table, column, context.country, unread["value"])
        reason = not_read_reason(rows.table, column)
        found.append(problems(rows.place, unread, column, reason, pl.lit(f"{wanted}. ") + instead))
    return replace(rows, problems=pl.concat(found))


def _with_shifted(rows: Rows, sheet: Sheet, headings: Headings) -> Rows:
    """Refuse rows of a text file with more cells than headings: their cells have moved.

    A comma in a number that stands without quotes does that, and a row would be read
    wrong without a sign of it.
    """
    if sheet.has_number_cells or not headings.beyond:
        return rows
    beyond = [pl.col(cell).is_not_null() for cell in headings.beyond]
    longer = sheet.cells.filter(pl.any_horizontal(beyond)).select("row_number")
    column = rows.columns[-1]
    cells = rows.cells(column).join(longer, on="row_number", how="semi")
    wanted = (
        "one cell for each heading. A cell that holds the separator needs quotes; "
        "save the file with another separator, or as .xlsx."
    )
    shifted = problems(rows.place, cells, column, "more cells than headings", wanted)
    return replace(rows, problems=pl.concat([rows.problems, shifted]))
