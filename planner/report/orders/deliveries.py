"""Deliveries by day, the receiving checklist, and what is reconciled in stock."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.ordering.working_days import WorkingDays
from planner.report.orders.numbered import day_cell, item_name, quantity_format, unit_of
from planner.report.workbook.cells import Number, number_format
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.ordering.plan import OrderPlan
    from planner.program import Program
    from planner.report.wording import Wording
    from planner.report.workbook.cells import Cell

FORECAST_DAYS_BEFORE = 2
"""Days before a dispatch on which its forecast is looked at."""

STOCK_COLUMNS = {
    "ordered": "Ordered",
    "short": "Short",
    "outstanding": "To come",
    "opening": "Opening",
    "received": "Received",
    "returned": "Returned",
    "unusable": "Unusable",
    "handed": "Handed over",
    "lost": "Lost",
    "unexplained": "Unexplained",
}
"""Quantities of the query stock_reconciled as they are headed, but for what is in store."""

RECEIVING_HEADINGS = (
    "Line",
    "Due",
    "Supplier",
    "Item",
    "Ordered",
    "Came on",
    "Received",
    "Unusable",
    "Short",
    "Species seen, °C, initials",
)

LIKELY = 0.1
"""Chance of a hold from which a second day is worth keeping free."""


def add_calendar(
    workbook: Workbook, plan: OrderPlan, lines: pl.DataFrame, program: Program, wording: Wording
) -> None:
    """Write what is to be done on which day, until the last delivery."""
    page = Page(workbook, "Delivery calendar", (17, 17, 17, 17, 30, 34, 13, 8))
    page.title("Delivery calendar")
    window = plan.settings.shipping_window
    page.note(
        f"Worms travel only when every day on the way is between {window.coldest_c:g} and "
        f"{window.warmest_c:g} °C. The chance of a hold rests on monthly normals, or on the "
        "forecast where one was given; look at the forecast on the day named and plan again with "
        "planner order --forecast."
    )
    days = lines.group_by("slot", maintain_order=True).agg(
        pl.col("supplier_id", "order_date", "dispatch_date", "delivery_date").first(),
        pl.col("held_chance").max(),
        pl.struct("item_kind", "item_id", "ordered_quantity").alias("items"),
    )
    rows = [
        _calendar_row(plan, row, program, wording)
        for row in days.sort("delivery_date", "supplier_id").iter_rows(named=True)
    ]
    page.table(
        ("Order by", "Look at forecast", "Sent", "Comes", "Supplier", "What", "For", "Hold"),
        rows,
        stays_in_sight=True,
    )
    risky = [row for row in days["held_chance"] if row > LIKELY]
    if risky:
        page.note(
            f"{len(risky)} deliveries have a chance of more than {wording.share(LIKELY)} to be "
            "held: agree a second day with the supplier beforehand."
        )
    page.finish(f"{program.council.name}: deliveries", landscape=True)


def _calendar_row(
    plan: OrderPlan, row: dict[str, Any], program: Program, wording: Wording
) -> list[Cell]:
    is_live = any(item["item_kind"] == "worms" for item in row["items"])
    ahead = row["dispatch_date"] - dt.timedelta(days=FORECAST_DAYS_BEFORE)
    look = WorkingDays(plan.settings.public_holidays).back_to_working(ahead)
    return [
        day_cell(row["order_date"], wording),
        day_cell(look if is_live else None, wording, "–"),
        day_cell(row["dispatch_date"], wording),
        day_cell(row["delivery_date"], wording),
        plan.problem.suppliers[row["supplier_id"]].supplier_name,
        "\n".join(_goods(program, item, wording) for item in row["items"]),
        _events_served(plan, row["slot"]) if is_live else "stock",
        Number(row["held_chance"] if is_live else None, number_format("share", 0, wording), "–"),
    ]


def _goods(program: Program, item: dict[str, object], wording: Wording) -> str:
    kind, name = str(item["item_kind"]), str(item["item_id"])
    quantity = wording.number(float(str(item["ordered_quantity"])), 0 if kind == "bins" else 1)
    return f"{quantity} {unit_of(kind)} {item_name(program, kind, name)}"


def _events_served(plan: OrderPlan, slot: int) -> str:
    solution = plan.solution
    served = [number for number, where in (solution.sent_kg if solution else {}) if where == slot]
    return ", ".join(plan.demand.events.event_ids[number] for number in sorted(set(served)))


def add_receiving(
    workbook: Workbook, plan: OrderPlan, lines: pl.DataFrame, program: Program, wording: Wording
) -> None:
    """Write the list that is filled in as goods come, in the words of the sheet deliveries."""
    widths = (14, 17, 30, 29, 11, 12, 11, 11, 11, 17)
    page = Page(workbook, "Receiving checklist", widths)
    page.title("Receiving checklist")
    page.note(
        "Fill in a line as it comes, on the day. Weigh worms without their packing mix; weigh "
        "the dead apart. Bins: count broken and faulty ones as unusable. Then write these "
        "numbers on the sheet deliveries of the intake workbook and load it."
    )
    rows: list[list[Cell]] = [
        [
            row["order_line_id"],
            day_cell(row["delivery_date"], wording),
            plan.problem.suppliers[row["supplier_id"]].supplier_name,
            item_name(program, row["item_kind"], row["item_id"]),
            Number(row["ordered_quantity"], quantity_format(row["item_kind"], wording)),
            *[""] * (len(RECEIVING_HEADINGS) - 5),
        ]
        for row in lines.sort("delivery_date", "supplier_id", "order_line_id").iter_rows(named=True)
    ]
    page.table(RECEIVING_HEADINGS, rows, stays_in_sight=True)
    page.finish(f"{program.council.name}: receiving", landscape=True)


def add_stock(workbook: Workbook, plan: OrderPlan, program: Program, wording: Wording) -> None:
    """Write what was ordered, came, was handed over, was lost and is in store."""
    page = Page(workbook, "Stock", (22, 13, 11, 11, 12, 13, 11, 11, 13, 11, 13, 13))
    page.title("Ordered, received, handed over, lost, in store")
    page.note(
        "At the end of the first day of this order. In store = opening + received + returned + "
        "unexplained − unusable − handed over − lost. Unexplained is what the last count found "
        "beyond the books; it should be 0."
    )
    columns = (*STOCK_COLUMNS, "in_stock")
    headings = ("Item", *STOCK_COLUMNS.values(), "In store")
    rows: list[list[Cell]] = []
    for row in plan.reconciled.iter_rows(named=True):
        code = quantity_format(row["item_kind"], wording)
        label = "Live worms" if row["item_kind"] == "worms" else "Bedding, dry"
        if row["item_kind"] == "bins":
            label = item_name(program, "bins", row["stock_item"])
        rows.append([label, *(Number(row[f"{name}_quantity"], code) for name in columns)])
    if rows:
        page.table(headings, rows)
    else:
        page.note("Nothing was ordered, delivered or counted yet.")
    page.finish(f"{program.council.name}: stock", landscape=True)
