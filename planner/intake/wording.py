"""What a column expects, and what to write instead of what was found."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dataframely as dy

from planner.tables import TABLES, codes

if TYPE_CHECKING:
    from planner.intake.country import Country

NOT_KEPT = "the value is not kept, being a personal detail"


def expected(table: str, column: str, country: Country, currency: str) -> str:
    """Say in words what a column may hold.

    Examples
    --------
    >>> from planner.intake.country import country
    >>> expected("weighings", "fed_kg", country("en_AU"), "AUD")
    'a number of kg from 0 to 60'
    """
    declared = TABLES[table].columns()[column]
    unit = (declared.metadata or {})["unit"]
    if isinstance(declared, dy.Float64):
        return _number_words(declared, unit, country, currency)
    if isinstance(declared, dy.Int64):
        return f"a whole number {_limits(declared, country)}"
    if isinstance(declared, dy.Date):
        return f"a date written as {country.date_example} or 2025-03-04"
    if isinstance(declared, dy.Bool):
        return "yes or no"
    if isinstance(declared, dy.Enum):
        return f"one of {', '.join(codes(table, column))}"
    if isinstance(declared, dy.String):
        meaning = (declared.metadata or {})["meaning"]
        return f"{meaning}, at most {declared.max_length} characters"
    message = f"{table}.{column}: no words for {type(declared).__name__}"
    raise TypeError(message)


def _number_words(declared: dy.Float64, unit: str, country: Country, currency: str) -> str:
    if unit in ("share", "probability"):
        low = "above 0 and at most" if declared.min_exclusive is not None else "from 0 to"
        return f"a {unit} {low} 1 (35 per cent is {country.written(0.35)})"
    thing = f"an amount in {currency}" if unit == "currency" else f"a number of {unit}"
    return f"{thing} {_limits(declared, country)}"


def _limits(declared: dy.Float64 | dy.Int64, country: Country) -> str:
    low, high = declared.min or 0, declared.max or 0
    return f"from {country.grouped(low)} to {country.grouped(high)}"


def not_read_reason(table: str, column: str) -> str:
    """Name in few words why a cell could not be read."""
    reasons = {
        dy.Float64: "not a number",
        dy.Int64: "not a whole number",
        dy.Date: "not a date",
        dy.Bool: "neither yes nor no",
        dy.Enum: "no such code",
        dy.String: "a formula's error or a mark",
    }
    return reasons[type(TABLES[table].columns()[column])]


def or_empty(table: str, column: str) -> str:
    """Add that the cell may stay empty, where it may."""
    return " or leave it empty" if TABLES[table].columns()[column].nullable else ""
