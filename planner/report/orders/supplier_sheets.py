"""One sheet a supplier, ready to send."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.cells import Number
from planner.report.orders.cautions import GOODS_CONDITIONS, live_conditions
from planner.report.orders.order import day_cell, quantity_format
from planner.report.wording import listing
from planner.workbooks import sheet_name

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.report.orders.order import Order
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

WIDTHS = (14, 17, 17, 17, 29, 8, 10, 11, 12, 14)
MOST_ON_A_PAGE = 24
"""Lines up to which an order with its conditions is printed on one page."""

HEADINGS = (
    "Line",
    "Order by",
    "Send on",
    "Deliver on",
    "Item",
    "Packs",
    "In a pack",
    "Quantity",
    "A pack",
    "Amount",
)


def add_supplier_sheets(book: Book, order: Order) -> None:
    """Write a purchase order for each supplier of the order.plan."""
    taken = {name.casefold() for name in book.workbook.sheetnames}
    for supplier in order.lines["supplier_id"].unique(maintain_order=True):
        mine = order.lines.filter(pl.col("supplier_id") == supplier)
        name = order.supplier_name(supplier)
        page = book.add(sheet_name(name, taken), WIDTHS)
        number = f"{order.plan.from_date:%Y%m%d}-{supplier}"
        page.title(f"Purchase order {number} to {name}")
        _parties(page, order, mine)
        _lines(page, order, mine)
        _conditions(page, order, mine)
        page.section("Accepted by the supplier")
        page.table(("Name", "", "", "Signature", "", "", "Date", "", "", ""), [[""] * 10])
        footer = f"{order.program.council.name}: order to {name}"
        page.finish(footer, landscape=True, is_one_page=mine.height <= MOST_ON_A_PAGE)


def _parties(page: Page, order: Order, lines: pl.DataFrame) -> None:
    place = order.plan.settings.delivery_place
    first = order.wording.day(min(lines["order_date"].to_list()))
    page.lead(f"From {order.program.council.name}. Draft until signed on the sheet Approval.")
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
        f"under Order by. Prices {order.plan.settings.prices_are}, on the offers "
        f"{listing(sorted(set(lines['offer_id'])))}."
    )
    page.section("Lines")


def _lines(page: Page, order: Order, lines: pl.DataFrame) -> None:
    rows: list[list[Cell]] = []
    for row in lines.iter_rows(named=True):
        quantity = quantity_format(row["item_kind"], order.wording)
        rows.append(
            [
                row["order_line_id"],
                day_cell(row["order_date"], order.wording),
                day_cell(row["dispatch_date"], order.wording),
                day_cell(row["delivery_date"], order.wording),
                order.item_name(row["item_kind"], row["item_id"]),
                Number(float(row["packs_count"])),
                Number(row["pack_quantity"], quantity),
                Number(row["ordered_quantity"], quantity),
                order.money(row["goods_amount"] / row["packs_count"], places=2),
                order.money(row["goods_amount"], places=2),
            ]
        )
    freight = float(lines["freight_amount"].sum())
    deliveries = lines["slot"].n_unique()
    rows.append(
        [
            "Freight", "", "", "",
            f"{deliveries} deliveries" if deliveries > 1 else "1 delivery",
            "", "", "", "", order.money(freight, places=2),
        ]
    )  # fmt: skip
    total = float(lines["goods_amount"].sum()) + freight
    page.table(HEADINGS, rows, ["Whole order", *[""] * 8, order.money(total, places=2)],
               stays_in_sight=lines.height > MOST_ON_A_PAGE)  # fmt: skip


def _conditions(page: Page, order: Order, lines: pl.DataFrame) -> None:
    page.section("Conditions")
    species = sorted(set(lines.filter(item_kind="worms")["item_id"]))
    for name in species:
        for condition in live_conditions(order.plan.settings, name):
            page.note(f"• {condition}")
    if lines.filter(pl.col("item_kind") != "worms").height:
        for condition in GOODS_CONDITIONS:
            page.note(f"• {condition}")
