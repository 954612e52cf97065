"""Numbers that a sheet spreads over two columns: a mass and its unit, a debit and a credit."""

from __future__ import annotations

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
