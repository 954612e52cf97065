"""Lines of an order with their numbers, and names as they stand on sheets."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

from planner.ordering.plan import order_lines

if TYPE_CHECKING:
    import datetime as dt

    from planner.ordering.solving import Solution
    from planner.program import Program

LONGEST_SHEET_NAME = 31
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\']")


def numbered_lines(solution: Solution, from_date: dt.date) -> pl.DataFrame:
    """Lines of the order with order_line_id, in order of supplier and delivery.

    Parameters
    ----------
    solution
        The plan.
    from_date
        First day of the order, which begins its numbers.
    """
    lines = order_lines(solution).sort("supplier_id", "delivery_date", "item_kind", "item_id")
    return lines.with_columns(
        order_line_id=pl.format(
            f"{from_date:%Y%m%d}-{{}}",
            pl.int_range(1, pl.len() + 1).cast(pl.String).str.zfill(3),
        )
    )


def item_name(program: Program, item_kind: str, item_id: str) -> str:
    """Name an item as a supplier and a councillor would.

    Worms bear their species; bins the name of their model.
    """
    if item_kind == "bins":
        names = {model.model_id: model.model_name for model in program.bin_models}
        return names.get(item_id, item_id)
    return f"Live worms, {item_id}" if item_kind == "worms" else f"Bedding, dry {item_id}"


def unit_of(item_kind: str) -> str:
    """Unit of an item's quantity."""
    return "bins" if item_kind == "bins" else "kg"


def sheet_name(wanted: str, taken: set[str]) -> str:
    """Name of a sheet that a spreadsheet program takes, none twice.

    Examples
    --------
    >>> sheet_name("Farm: A/B", set()), sheet_name("Farm", {"farm"})
    ('Farm A B', 'Farm 2')
    """
    clean = " ".join(_NOT_IN_SHEET_NAMES.sub(" ", wanted).split()) or "Supplier"
    name, number = clean[:LONGEST_SHEET_NAME], 1
    while name.casefold() in taken:
        number += 1
        name = f"{clean[: LONGEST_SHEET_NAME - len(str(number)) - 1]} {number}"
    taken.add(name.casefold())
    return name
