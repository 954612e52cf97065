"""One sheet a supplier, ready to send."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.report.orders.cautions import GOODS_CONDITIONS, live_conditions
from planner.report.orders.numbered import item_name, sheet_name, unit_of
from planner.report.wording import listing
from planner.report.workbook.cells import Day, Number, number_format
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.ordering.plan import OrderPlan
    from planner.program import Program
    from planner.report.wording import Wording
    from planner.report.workbook.cells import Cell

WIDTHS = (15, 12, 12, 31, 8, 11, 12, 15)
HEADINGS = (
    "Line",
    "Order by",
    "Deliver on",
    "Item",
    "Packs",
    "In a pack",
    "Quantity",
    "Amount",
)


def add_supplier_sheets(
    workbook: Workbook, plan: OrderPlan, lines: pl.DataFrame, program: Program, wording: Wording
) -> None:
    """Write a purchase order for each supplier of the plan."""
    taken = {name.casefold() for name in workbook.sheetnames}
    for supplier in lines["supplier_id"].unique(maintain_order=True):
        mine = lines.filter(pl.col("supplier_id") == supplier)
        name = plan.problem.suppliers[supplier].supplier_name
        page = Page(workbook, sheet_name(name, taken), WIDTHS)
        page.title(f"Purchase order to {name}")
        _parties(page, plan, mine, program, wording)
        _lines(page, mine, program, wording)
        _conditions(page, plan, mine)
        page.section("Accepted by the supplier")
        page.table(("Name", "", "", "Signature", "", "", "Date", ""), [[""] * 8])
        page.finish(f"{program.council.name}: order to {name}", landscape=True)


def _parties(
    page: Page, plan: OrderPlan, lines: pl.DataFrame, program: Program, wording: Wording
) -> None:
    place = plan.settings.delivery_place
    first = wording.day(lines["order_date"].min())
    page.lead(f"From {program.council.name}. Draft until signed on the sheet Approval.")
    if place is None:
        page.note(
            "Deliver to: not named in program.toml (ordering.delivery_place). Write it here "
            "before sending."
        )
    else:
        page.note(
            f"Deliver to {place.name}, {place.address}; open {place.opening_hours}. "
            f"Contact: {place.contact}."
        )
    page.note(
        f"To be placed by {first} at the latest; later deliveries are called off by the days "
        f"under Order by. Prices {plan.settings.prices_are}, on the offers "
        f"{listing(sorted(set(lines['offer_id'])))}."
    )
    page.section("Lines")


def _lines(page: Page, lines: pl.DataFrame, program: Program, wording: Wording) -> None:
    money = number_format(wording.currency, 2, wording)
    rows: list[list[Cell]] = []
    for row in lines.iter_rows(named=True):
        places = 0 if row["item_kind"] == "bins" else 1
        quantity = f'{number_format("", places, wording)}" {unit_of(row["item_kind"])}"'
        rows.append(
            [
                row["order_line_id"],
                Day(row["order_date"]),
                Day(row["delivery_date"]),
                item_name(program, row["item_kind"], row["item_id"]),
                Number(float(row["packs_count"])),
                Number(row["pack_quantity"], quantity),
                Number(row["ordered_quantity"], quantity),
                Number(row["goods_amount"], money),
            ]
        )
    freight = float(lines["freight_amount"].sum())
    deliveries = lines["slot"].n_unique()
    rows.append(
        [
            "Freight", "", "", f"{deliveries} deliveries" if deliveries > 1 else "1 delivery",
            "", "", "", Number(freight, money),
        ]
    )  # fmt: skip
    total = float(lines["goods_amount"].sum()) + freight
    page.table(HEADINGS, rows, ["Whole order", *[""] * 6, Number(total, money)],
               stays_in_sight=True)  # fmt: skip


def _conditions(page: Page, plan: OrderPlan, lines: pl.DataFrame) -> None:
    page.section("Conditions")
    species = sorted(set(lines.filter(item_kind="worms")["item_id"]))
    for name in species:
        for condition in live_conditions(plan.settings, name):
            page.note(f"• {condition}")
    if lines.filter(pl.col("item_kind") != "worms").height:
        for condition in GOODS_CONDITIONS:
            page.note(f"• {condition}")
