"""Rows of a sheet: which are to be read, and what their cells say."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.cells import UNHELD, UNSEEN, named_signs
from planner.errors import ProgramError
from planner.intake.cells import MARKED_TEXT, parsed
from planner.intake.layout import completed, completing_notes, pass_over, straightened
from planner.intake.meaning import from_packs
from planner.intake.problems import no_problems, problems, record_key
from planner.intake.readings import SCHEMA as READINGS_SCHEMA
from planner.intake.wording import NOT_KEPT, expected
from planner.messages import in_english, officer_messages, say
from planner.tables import TABLES
from planner.tables.purchases import FROM_PACKS

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from planner.intake.cells import Country
    from planner.intake.headings import Headings
    from planner.intake.meaning import Unit
    from planner.intake.readings import Proposal
    from planner.intake.sheets import Sheet
    from planner.intake.vocabulary import Vocabulary

HOUSEHOLD = "household_id"
NAME_SIGNS = r"[\s,@]"


@dataclass(frozen=True)
class Context:
    """What reading needs to know of the program."""

    country: Country
    currency: str  # three letters after ISO 4217
    models: dict[str, str]
    species: tuple[str, ...]
    vocabulary: Vocabulary  # words that stand for columns and codes
    # day after which nothing can have happened yet; None where that is not asked
    loaded_on: dt.date | None
    years: tuple[dt.date, dt.date]  # first and last day of the program's reporting years
    # doubtful ways of reading that the officer has confirmed, as ``costs.amount.brackets``
    accepted: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Rows:
    """Rows of one sheet on their way in."""

    context: Context
    # the sheet as read, and where its columns stand
    source: Sheet
    headings: Headings
    columns: tuple[str, ...]  # columns of the table that the sheet has
    # ``row_number`` and the columns: as written, and of the contract's types with columns that are
    # not there as nulls
    text: pl.DataFrame
    typed: pl.DataFrame
    problems: pl.DataFrame
    # all rows below the headings but the example; blank rows, totals and notes; identical repeats
    rows_read: int
    skipped_count: int
    repeated_count: int
    notes: tuple[str, ...]
    # cells that were read as a person would, by row; frame of intake.readings
    readings: pl.DataFrame
    totals: pl.DataFrame  # rows of totals: ``row_number`` and the columns as written
    repeats: pl.DataFrame  # identical repeats that were dropped, as `typed`
    proposals: tuple[Proposal, ...] = ()
    # columns that the sheet lacks: their values follow from the others, or the program file says
    # what every row holds
    filled: tuple[str, ...] = ()

    @property
    def written(self) -> tuple[str, ...]:
        """Columns that are written to the records."""
        return (*self.columns, *self.filled)

    @property
    def table(self) -> str:
        """Name of the record table."""
        return self.headings.table

    @property
    def file(self) -> str:
        """Name of the file."""
        return self.source.file

    @property
    def sheet(self) -> str:
        """Name of the sheet; empty for a text file."""
        return self.source.name

    def good(self) -> pl.DataFrame:
        """Rows without a problem: ``row_number`` and every column of the table."""
        return self.typed.join(self.problems.select("row_number"), on="row_number", how="anti")

    def refused(
        self, cells: pl.DataFrame, column: str, reason: str | pl.Expr, expected: str | pl.Expr
    ) -> pl.DataFrame:
        """Make problems of one column, of some of its `cells`."""
        place = {"table_name": self.table, "file": self.file, "sheet": self.sheet}
        heading = self.headings.texts.get(self.headings.cells.get(column, ""), "")
        return problems(place, cells, column, reason, expected, heading)

    def expected(self, column: str) -> str:
        """Say in words what a column may hold."""
        return expected(self.table, column, self.context.country, self.context.currency)

    def with_problems(self, *found: pl.DataFrame) -> Rows:
        """Add problems to those there are."""
        return replace(self, problems=pl.concat([self.problems, *found]))

    def faulty(self, column: str) -> pl.DataFrame:
        """Numbers of the rows with a problem in a column."""
        return self.problems.filter(pl.col("column_name") == column).select("row_number")

    def cells(self, column: str) -> pl.DataFrame:
        """Row number, record key and what is written in a column."""
        held = pl.lit(self.headings.held.get(column), dtype=pl.String)
        written = pl.col(column) if column in self.columns else held
        shown = written.str.replace(r"[ T]00:00:00$", "").alias("value")
        keyed = self.typed.select("row_number", record_key(self.table))
        return self.text.select("row_number", shown).join(keyed, on="row_number", how="left")


def read_rows(sheet: Sheet, headings: Headings, context: Context) -> Rows:
    """Read the rows below the headings of a sheet; what is not read is null in `typed`."""
    sheet, straight = straightened(sheet, headings.row_number)
    written = sheet.cells.filter(pl.col("row_number") > headings.row_number)
    in_numbers = sheet.has_number_cells
    below = completed(written, headings, context.country, has_number_cells=in_numbers)
    passed = pass_over(sheet, headings, below)
    named = [pl.col(cell).alias(name) for name, cell in headings.cells.items()]
    columns = [name for name in TABLES[headings.table].column_names() if name in headings.cells]
    text = passed.kept.select("row_number", *named).select("row_number", *columns)
    totals = passed.totals.select("row_number", *named).select("row_number", *columns)
    typed = typed_cells(text, headings, context, has_number_cells=in_numbers)
    held = headings.held
    typed = _with_every_row(typed, held, headings.table, context)
    rows_read = below.height - passed.example_count
    rows = Rows(
        context=context,
        source=sheet,
        headings=headings,
        columns=tuple(columns),
        text=text,
        typed=typed,
        problems=no_problems(),
        rows_read=rows_read,
        skipped_count=rows_read - passed.kept.height,
        repeated_count=0,
        notes=(
            *headings.notes(sheet.place),
            *completing_notes(headings, sheet.place),
            *straight,
            *passed.notes,
            *(
                say("rows.every_row", place=sheet.place, column=column, value=value)
                for column, value in held.items()
            ),
        ),
        readings=pl.DataFrame(schema=READINGS_SCHEMA),
        totals=totals,
        repeats=typed.clear(),
        filled=tuple(held),
    )
    noted = replace(rows, notes=(*rows.notes, *_date_notes(rows, context.country)))
    return _with_odd_signs(_with_named_households(_with_price_breaks(noted)))


def typed_cells(
    text: pl.DataFrame, headings: Headings, context: Context, *, has_number_cells: bool
) -> pl.DataFrame:
    """Read cells as the contract's types; what is not read, and columns not there, are null."""
    schema = TABLES[headings.table]
    worded = text.with_columns(
        context.vocabulary.read(name) for name in text.columns if name != "row_number"
    )
    return worded.select(
        "row_number",
        *(
            _in_column_unit(
                parsed(headings.table, name, context.country, has_number_cells=has_number_cells),
                headings.units.get(name),
            )
            .cast(schema.columns()[name].dtype)
            .alias(name)
            if name in text.columns
            else pl.lit(None, dtype=schema.columns()[name].dtype).alias(name)
            for name in schema.column_names()
        ),
    )


def _with_every_row(
    typed: pl.DataFrame, held: Mapping[str, str], table: str, context: Context
) -> pl.DataFrame:
    """Fill columns that the sheet lacks with what the program file says of every row.

    Raises
    ------
    ProgramError
        The column cannot hold that.
    """
    if not held:
        return typed
    said_once = pl.DataFrame({name: [value] for name, value in held.items()})
    read = said_once.with_columns(context.vocabulary.read(name) for name in held).select(
        parsed(table, name, context.country, has_number_cells=False).alias(name) for name in held
    )
    for name in held:
        if read[name].null_count():
            wanted = expected(table, name, context.country, context.currency)
            key = f"every_row.{table}.{name}"
            message = say("vocabulary.bad_every_row", key=key, found=held[name], expected=wanted)
            raise ProgramError(message)
    return typed.with_columns(
        pl.lit(read[name][0], dtype=read[name].dtype).alias(name) for name in held
    )


def _in_column_unit(number: pl.Expr, unit: Unit | None) -> pl.Expr:
    return number if unit is None or unit.is_of_column else number * unit.times / unit.divisor


def _date_notes(rows: Rows, country: Country) -> list[str]:
    """Say how dates were read that are written in another way than the country's."""
    notes = []
    for column in rows.columns:
        if not isinstance(TABLES[rows.table].columns()[column], dy.Date):
            continue
        sign = re.escape(country.date_sign)
        usual = rf"^\d{{1,2}}{sign}\d{{1,2}}{sign}\d{{4}}"
        text = pl.col("value")
        written = rows.text.select(pl.col(column).alias("value")).with_columns(
            rows.typed[column].alias("day")
        )
        other = written.filter(
            pl.col("day").is_not_null() & ~text.str.contains(usual) & ~text.str.contains(r"^\d{4}")
        )
        if other.height:
            first = other.row(0, named=True)
            notes.append(
                say(
                    "rows.date_read",
                    other.height,
                    place=rows.source.place,
                    column=rows.headings.called(column),
                    found=first["value"],
                    day=officer_messages().day(first["day"]),
                )
            )
    return notes


def _with_price_breaks(rows: Rows) -> Rows:
    """Read from how many packs on a price holds where its own heading says so, as "50-199"."""
    cells, texts = rows.headings.cells, rows.headings.texts
    breaks = {
        price: from_packs(texts[cells[price]])
        for price, count in FROM_PACKS.items()
        if price in rows.columns and count not in rows.columns
    }
    begun = {
        FROM_PACKS[price]: pl.when(rows.text[price].is_not_null()).then(pl.lit(ends[0], pl.Int64))
        for price, ends in breaks.items()
        if ends
    }
    if not begun:
        return rows
    listed = ", ".join(texts[cells[price]] for price in breaks)
    note = say("rows.price_breaks", place=rows.source.place, headings=listed)
    typed = rows.typed.with_columns(**begun)
    return replace(rows, typed=typed, filled=(*rows.filled, *begun), notes=(*rows.notes, note))


def _with_named_households(rows: Rows) -> Rows:
    """Refuse a household's name or address where its number should be; keep neither."""
    if HOUSEHOLD not in rows.columns:
        return rows
    written = rows.text[HOUSEHOLD]
    is_named = written.str.contains(NAME_SIGNS) & ~written.str.contains(MARKED_TEXT)
    is_named = is_named.fill_null(value=False)
    if not is_named.any():
        return rows
    typed = rows.typed.with_columns(pl.when(~is_named).then(pl.col(HOUSEHOLD)).alias(HOUSEHOLD))
    hidden = replace(rows, typed=typed)
    cells = hidden.cells(HOUSEHOLD).filter(is_named).with_columns(pl.lit("").alias("value"))
    why = in_english(NOT_KEPT, reason=in_english("reason.seems_a_name"))
    return hidden.with_problems(hidden.refused(cells, HOUSEHOLD, why, say("rows.no_name")))


def _with_odd_signs(rows: Rows) -> Rows:
    """Refuse cells with characters that no report can hold, or nobody sees in a key."""
    of_keys = [column for column in rows.columns if column.endswith("_id")]
    found = _with_signs(rows, rows.columns, UNHELD, "reason.unheld_sign")
    found += _with_signs(rows, of_keys, UNSEEN, "reason.unseen_sign")
    return rows.with_problems(*found)


def _with_signs(rows: Rows, columns: Iterable[str], signs: str, why: str) -> list[pl.DataFrame]:
    found = []
    for column in columns:
        has_sign = rows.text[column].str.contains(signs).fill_null(value=False)
        if not has_sign.any():
            continue
        hit = rows.cells(column).filter(has_sign)
        named = (
            hit["value"].str.extract_all(signs).map_elements(named_signs, return_dtype=pl.String)
        )
        shown = hit.with_columns(pl.col("value").str.replace_all(signs, ""), signs=named)
        reason = pl.col("signs").replace_strict(
            {each: in_english(why, signs=each) for each in named}, return_dtype=pl.String
        )
        wanted = say("rows.no_sign", column=column)
        found.append(rows.refused(shown, column, reason, wanted))
    return found
