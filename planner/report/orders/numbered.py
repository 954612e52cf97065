"""Lines of an order with their numbers, and names as they stand on sheets."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

from planner.ordering.plan import order_lines
from planner.report.workbook.cells import Day, Number, number_format

if TYPE_CHECKING:
    import datetime as dt

    from planner.ordering.solving import Solution
    from planner.program import Program
    from planner.report.wording import Wording

LONGEST_SHEET_NAME = 31
MOST_SHOWN, ALL_BUT_SURE = 0.999, 0.9995
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
    """Name the unit of an item's quantity."""
    return "bins" if item_kind == "bins" else "kg"


def day_cell(day: dt.date | None, wording: Wording, words: str = "") -> Day:
    """Put a day in a cell so that no reader takes the day for the month."""
    if wording.locale.language != "en":
        return Day(day, "dd/mm/yyyy", words)
    is_month_first = wording.locale.territory == "US"
    return Day(day, "ddd mmm d, yyyy" if is_month_first else "ddd d mmm yyyy", words)


def level_cell(level: float, wording: Wording) -> Number:
    """Put a chance in a cell; one that is all but sure is not shown as certain."""
    if ALL_BUT_SURE < level < 1.0:
        return Number(None, words=f"> {wording.share(MOST_SHOWN, 1)}")
    return Number(level, number_format("share", 1, wording))


def quantity_format(item_kind: str, wording: Wording) -> str:
    """Write the format code of an item's quantity, its unit behind it."""
    if item_kind == "bins":
        return '[=1]0" bin";#,##0" bins"'
    return f'{number_format("", 1, wording)}" kg"'


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
