"""Fields of record tables: kinds of columns with their limits and units.

What each column means is said in the message files, by table and column.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import dataframely as dy

FIRST_DATE = dt.date(2000, 1, 1)
LAST_DATE = dt.date(2099, 12, 31)


def note(unit: str = "", references: str = "") -> dict[str, Any]:
    """Write the metadata of a column: its unit, and the table it refers to."""
    return {"unit": unit, "references": references}


def declared_unit(column: dy.Column) -> str:
    """Give the unit of a column's numbers; empty where it has none."""
    return str((column.metadata or {})["unit"])


def key_field(references: str = "") -> dy.String:
    """Make a column of the key."""
    return dy.String(primary_key=True, min_length=1, max_length=60, metadata=note("", references))


def text_field(*, nullable: bool = False) -> dy.String:
    """Make a column of text."""
    return dy.String(nullable=nullable, min_length=1, max_length=200, metadata=note())


def link_field(references: str, *, nullable: bool = False) -> dy.String:
    """Make a column that holds a key of another table."""
    return dy.String(nullable=nullable, min_length=1, max_length=60, metadata=note("", references))


def code_field(codes: tuple[str, ...], *, nullable: bool = False) -> dy.Enum:
    """Make a column of codes from a closed list."""
    return dy.Enum(codes, nullable=nullable, metadata=note())


def date_field(*, nullable: bool = False, is_key: bool = False) -> dy.Date:
    """Make a column of days."""
    first, last = FIRST_DATE, LAST_DATE
    return dy.Date(nullable=nullable, primary_key=is_key, min=first, max=last, metadata=note())


def count_field(
    most: int, *, least: int = 0, nullable: bool = False, unit: str = "count"
) -> dy.Int64:
    """Make a column of whole numbers."""
    return dy.Int64(nullable=nullable, min=least, max=most, metadata=note(unit))


def measure_field(
    unit: str, most: float, *, least: float = 0.0, nullable: bool = False
) -> dy.Float64:
    """Make a column of measured numbers in a unit."""
    return dy.Float64(nullable=nullable, min=least, max=most, metadata=note(unit))


def flag_field(*, nullable: bool = False) -> dy.Bool:
    """Make a column of yes and no."""
    return dy.Bool(nullable=nullable, metadata=note())
