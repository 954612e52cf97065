"""Fields of record tables: kinds of columns with their limits, units and meanings."""

from __future__ import annotations

import datetime as dt
from typing import Any

import dataframely as dy

FIRST_DATE = dt.date(2000, 1, 1)
LAST_DATE = dt.date(2099, 12, 31)


def note(meaning: str, unit: str = "", references: str = "") -> dict[str, Any]:
    """Write the metadata of a column: its meaning, unit, and the table it refers to."""
    return {"meaning": meaning, "unit": unit, "references": references}


def key_field(meaning: str, references: str = "") -> dy.String:
    """Make a column of the key."""
    return dy.String(
        primary_key=True, min_length=1, max_length=60, metadata=note(meaning, "", references)
    )


def text_field(meaning: str, *, nullable: bool = False) -> dy.String:
    """Make a column of text."""
    return dy.String(nullable=nullable, min_length=1, max_length=200, metadata=note(meaning))


def link_field(meaning: str, references: str, *, nullable: bool = False) -> dy.String:
    """Make a column that holds a key of another table."""
    return dy.String(
        nullable=nullable, min_length=1, max_length=60, metadata=note(meaning, "", references)
    )


def code_field(codes: tuple[str, ...], meaning: str, *, nullable: bool = False) -> dy.Enum:
    """Make a column of codes from a closed list."""
    return dy.Enum(codes, nullable=nullable, metadata=note(meaning))


def date_field(meaning: str, *, nullable: bool = False) -> dy.Date:
    """Make a column of days."""
    return dy.Date(nullable=nullable, min=FIRST_DATE, max=LAST_DATE, metadata=note(meaning))


def count_field(meaning: str, most: int, *, least: int = 0, nullable: bool = False) -> dy.Int64:
    """Make a column of whole numbers."""
    return dy.Int64(nullable=nullable, min=least, max=most, metadata=note(meaning, "count"))


def measure_field(
    meaning: str, unit: str, most: float, *, least: float = 0.0, nullable: bool = False
) -> dy.Float64:
    """Make a column of measured numbers in a unit."""
    return dy.Float64(nullable=nullable, min=least, max=most, metadata=note(meaning, unit))


def flag_field(meaning: str, *, nullable: bool = False) -> dy.Bool:
    """Make a column of yes and no."""
    return dy.Bool(nullable=nullable, metadata=note(meaning))
