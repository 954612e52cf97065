"""How people lay sheets out: repeated headings, rows that hold no record, a number in two columns.

Blank rows, totals, the example and notes under the table hold none; a mass may have its unit,
and a debit its credit, in a column beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.cells import plain_words
from planner.intake.meaning import UNITS, folded, folded_text, unit_of
from planner.messages import say
from planner.tables import TABLES
from planner.tables.fields import declared_unit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.intake.cells import Country
    from planner.intake.headings import Headings
    from planner.intake.sheets import Sheet

EXAMPLE_WORD = "example"
"""First cell of the row that only shows how to fill a sheet."""

FILLED_IN_LATER = {"calls": "call_outcome"}
"""Lists that the planner writes with rows to be filled in: while this column is empty, a row
is work to do and no record."""

_LISTED_ROWS = 5
_LEAST_HEADINGS = 3
_TOTAL_WORDS = rf"(?:{'|'.join(plain_words('total'))})"
_TOTAL = rf"^{_TOTAL_WORDS}(?:\s+(?:\p{{L}}|\d|[./-])+){{0,3}}\s*:?$"
_TOTAL_LAST = rf"^(?:[\p{{L}}\d./-]+\s+){{1,4}}{_TOTAL_WORDS}\s*:?$"
_NOTE_SIGNS = r"\s|^\*|:$"
_NOTE_BEGINS = r"^(?:\*|\(|(?:n\.?\s?b\.?|note|nota|remarque|hinweis)\s*:)"


def straightened(sheet: Sheet, head_row: int) -> tuple[Sheet, list[str]]:
    """Blank headings that a sheet repeats, and put columns that moved with them in their place."""
    row = sheet.cells.filter(pl.col("row_number") == head_row).drop("row_number")
    texts = {cell: text for cell, text in row.row(0, named=True).items() if text is not None}
    place_of = {text: cell for cell, text in texts.items()}
    if len(place_of) < max(len(texts), _LEAST_HEADINGS):
        return sheet, []
    again = sheet.cells.filter(pl.col("row_number") > head_row)
    for text in place_of:
        again = again.filter(pl.any_horizontal(pl.exclude("row_number") == text))
    if again.is_empty():
        return sheet, []
    parts = [sheet.cells.filter(pl.col("row_number") < again["row_number"][0])]
    ends = [*again["row_number"][1:], sheet.cells.height + 1]
    notes = []
    for repeated, end in zip(again.iter_rows(named=True), ends, strict=True):
        number = repeated.pop("row_number")
        now = {place_of[text]: cell for cell, text in repeated.items() if text in place_of}
        part = sheet.cells.filter(pl.col("row_number").is_between(number, end, closed="left"))
        is_row = pl.col("row_number") > number
        parts.append(
            part.with_columns(
                pl.when(is_row).then(pl.col(now.get(cell, cell))).alias(cell) for cell in repeated
            )
        )
        is_moved = any(now[cell] != cell for cell in now)
        notes.append(say(f"passed.{'moved' if is_moved else 'headings'}", place=sheet.row(number)))
    if len(notes) > _LISTED_ROWS:
        more = say("passed.headings_in_all", place=sheet.place, count=len(notes))
        notes = [*notes[:_LISTED_ROWS], more]
    return replace(sheet, cells=pl.concat(parts)), notes


@dataclass(frozen=True)
class Passed:
    """Rows to be read, and what was passed over."""

    kept: pl.DataFrame  # rows of the sheet that hold a record
    example_count: int  # rows that only show how to fill the sheet; they count as nothing
    # rows of notes, and of totals in a table whose rows do not add up, by their place
    notes: list[str]
    totals: pl.DataFrame


def _is_total(first: pl.Expr, key: str | None) -> pl.Expr:
    """Tell from the first filled cell of a row whether it only adds up the others.

    "Total for May" is no record whatever follows; "Bins Total" is none if its key is empty, as
    in tables that a spreadsheet summed up by groups (common practice).
    """
    said = first.str.to_lowercase().str.strip_chars(" :*")
    by_group = (
        said.str.contains(_TOTAL_LAST) & pl.col(key).is_null() if key else pl.lit(value=False)
    )
    return said.str.contains(_TOTAL) | by_group


def marked_rows(
    below: pl.DataFrame, table: str, cells: Mapping[str, str], head_row: int
) -> pl.DataFrame:
    """Mark the rows that hold no record: ``is_total``, ``is_example`` and ``is_note``."""
    everything = pl.exclude("row_number")
    columns = [pl.col(cell) for cell in cells.values()]
    first = pl.coalesce(everything)
    said = first.str.to_lowercase().str.strip_chars(" :*")
    key = cells.get(TABLES[table].primary_key()[0])
    marked = below.filter(pl.any_horizontal(*(one.is_not_null() for one in columns))).select(
        "row_number",
        _is_total(first, key).alias("is_total"),
        (said == EXAMPLE_WORD).alias("is_example"),
        said.is_in(plain_words("average")).alias("is_average"),
        pl.sum_horizontal(everything.is_not_null()).alias("count"),
        first.str.contains(_NOTE_SIGNS).alias("is_wordy"),
        first.str.to_lowercase().str.contains(_NOTE_BEGINS).alias("is_begun"),
    )
    last = marked.filter((pl.col("count") > 1) & ~pl.col("is_total"))["row_number"].max()
    after = pl.col("row_number") > (last if isinstance(last, int) else head_row)
    is_alone = (pl.col("count") == 1) & pl.col("is_wordy") & ~pl.col("is_total")
    is_note = (is_alone & (after | pl.col("is_begun"))) | pl.col("is_average")
    return marked.with_columns(is_note.alias("is_note"))


def pass_over(sheet: Sheet, headings: Headings, below: pl.DataFrame) -> Passed:
    """Leave out blank rows, totals, the example and notes under the table."""
    marked = marked_rows(below, headings.table, headings.cells, headings.row_number)
    filled = below.join(marked.select("row_number"), on="row_number", maintain_order="left")
    passed = marked.with_columns(
        filled.with_columns(is_to_do=_is_to_do(headings))["is_to_do"],
    )
    kept = filled.join(
        passed.filter(pl.any_horizontal("is_total", "is_example", "is_note", "is_to_do")).select(
            "row_number"
        ),
        on="row_number",
        how="anti",
        maintain_order="left",
    )
    totals = filled.join(
        passed.filter("is_total").select("row_number"), on="row_number", how="semi"
    )
    notes = [
        *_listed(sheet, passed, "total"),
        *_listed(sheet, passed, "note"),
    ]
    if to_do := int(passed.filter(pl.col("is_to_do") & ~pl.col("is_example")).height):
        key = "passed.not_there_yet" if headings.own else "passed.to_do"
        notes.append(say(key, to_do, place=sheet.place, table=headings.table))
    return Passed(kept, int(passed["is_example"].sum()), notes, totals)


def _is_to_do(headings: Headings) -> pl.Expr:
    cell = headings.cells.get(FILLED_IN_LATER.get(headings.table, ""))
    cells = headings.own or ([cell] if cell else [])
    return pl.all_horizontal(pl.lit(bool(cells)), *(pl.col(one).is_null() for one in cells))


def _listed(sheet: Sheet, passed: pl.DataFrame, kind: str) -> list[str]:
    rows = passed.filter(f"is_{kind}")["row_number"].to_list()
    notes = [say(f"passed.{kind}", place=sheet.row(row)) for row in rows[:_LISTED_ROWS]]
    if len(rows) > _LISTED_ROWS:
        notes.append(say(f"passed.{kind}s", place=sheet.place, count=len(rows)))
    return notes


AMOUNTS = {"costs": "amount"}
"""Column whose lines add up, by the tables that have one."""

_MEASURED = ("kg", "litres")
_NUMBER_CELL = r"^-?\d+\.\d+$"
_NOTHING = r"^\s*-?\s*0*[.,]?0*\s*\D?\s*$"


def completing(
    table: str, cells: Mapping[str, str], texts: Mapping[str, str]
) -> dict[str, tuple[str, str]]:
    """Find the columns of a sheet that complete the number in another one.

    Parameters
    ----------
    cells, texts
        The sheet's column of each column of the table; the heading of each of the sheet's.

    Returns
    -------
    dict[str, tuple[str, str]]
        For each such column of the sheet the column of the table, and ``unit`` or ``credit``.

    Examples
    --------
    >>> completing("costs", {"amount": "a"}, {"a": "Débit", "b": "Crédit"})
    {'b': ('amount', 'credit')}
    """
    order = list(texts)
    declared = TABLES[table].columns() if table else {}
    measured = {
        cell: name for name, cell in cells.items() if declared_unit(declared[name]) in _MEASURED
    }
    found = {}
    for place, cell in enumerate(order):
        word = folded(texts[cell])
        if cell in cells.values():
            continue
        if word in plain_words("unit_heading") and measured:
            nearest = min(measured, key=lambda one: abs(order.index(one) - place))
            found[cell] = measured[nearest], "unit"
        elif word in plain_words("credit_heading") and AMOUNTS.get(table) in cells:
            found[cell] = AMOUNTS[table], "credit"
    return found


def completed(
    below: pl.DataFrame, headings: Headings, country: Country, *, has_number_cells: bool
) -> pl.DataFrame:
    """Write each number as one cell would: "1471 g", "-240"."""
    for cell, (name, kind) in headings.completing.items():
        number = pl.col(headings.cells[name])
        if has_number_cells and kind == "unit":
            local = number.str.replace(".", country.decimal, literal=True)
            number = pl.when(number.str.contains(_NUMBER_CELL)).then(local).otherwise(number)
        other = pl.col(cell)
        whole = (
            _with_unit(number, other, unit_of(headings.table, name))
            if kind == "unit"
            else _less_credit(number, other)
        )
        below = below.with_columns(whole.alias(headings.cells[name]))
    return below


def completing_notes(headings: Headings, place: str) -> list[str]:
    """Say which columns were read together."""
    return [
        say(f"headings.with_{kind}", place=place, heading=headings.texts[cell], column=name)
        for cell, (name, kind) in headings.completing.items()
    ]


def _with_unit(number: pl.Expr, unit: pl.Expr, own: str) -> pl.Expr:
    """Put the unit behind a number that names none, but for the column's own."""
    usual = [word for word, one in UNITS.items() if one.column_unit == own and one.is_of_column]
    is_bare = number.str.contains(r"^[^\p{L}%]+$") & ~folded_text(unit).is_in(usual)
    return pl.when(is_bare & unit.is_not_null()).then(number + " " + unit).otherwise(number)


def _less_credit(debit: pl.Expr, credit: pl.Expr) -> pl.Expr:
    """Take a credit off: it is a negative line, as receipts are."""
    has_debit, has_credit = (
        one.is_not_null() & ~one.str.contains(_NOTHING) for one in (debit, credit)
    )
    minus = "-" + credit.str.replace(r"^\s*[-\u2212]\s*", "")
    net = debit.cast(pl.Float64, strict=False) - credit.cast(pl.Float64, strict=False)
    both = pl.coalesce(net.round(2).cast(pl.String), debit + " " + minus)
    of_one = pl.when(has_credit).then(minus).otherwise(debit)
    return pl.when(has_debit & has_credit).then(both).otherwise(of_one)
