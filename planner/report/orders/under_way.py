"""Orders placed before: what is to come and committed, and what came beside what was charged."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from planner.ordering.commitments import payments
from planner.ordering.slots import PRIOR_LATE_SHARE, Lateness
from planner.report.orders.order import day_cell, unit_of
from planner.report.orders.papers import Paper, PaperTable, Part
from planner.report.orders.purchase_orders import SalesTax

if TYPE_CHECKING:
    import datetime as dt

    from planner.cells import Cell
    from planner.report.orders.order import Order


COMING_HEADINGS = (
    "Line",
    "Supplier",
    "Item",
    "Still to come",
    "Agreed for",
    "Counted on from",
    "Committed",
)
QUARTER_HEADINGS = ("Quarter of delivery", "Budget", "Committed before", "Left for orders")
LATENESS_HEADINGS = (
    "Supplier",
    "Lines in the record",
    "Came late",
    "Chance of coming late",
    "Days planned ahead",
)


def orders_under_way(order: Order) -> Paper:
    """Set out orders placed before, on the first day of this one."""
    plan, wording = order.plan, order.wording
    coming = plan.position.outstanding.sort("delivery_date", "order_line_id")
    overdue = plan.position.overdue.height
    return Paper(
        "orders_under_way",
        "Orders under way",
        "Orders under way and what they commit",
        f"{coming.height} lines are still to come, {overdue} of them overdue, on "
        f"{wording.day(plan.from_date)}. All of them count in the order before you.",
        (
            _coming(order, coming),
            _quarters(order),
            _lateness(order),
        ),
        (16, 32, 34, 17, 17, 17, 15),
    )


def _coming(order: Order, coming: pl.DataFrame) -> Part:
    if coming.is_empty():
        return Part("Still to come", ("Nothing is on order.",))
    rows = tuple(_coming_row(order, row) for row in coming.iter_rows(named=True))
    note = (
        "Bins and bedding are counted on as late as their supplier's record makes likely; worms "
        "on the day agreed. Committed is what was charged, and the price ordered for the rest."
    )
    return Part("Still to come", table=PaperTable(COMING_HEADINGS, rows), notes=(note,))


def _coming_row(order: Order, row: dict[str, Any]) -> tuple[Cell, ...]:
    kind = row["item_kind"]
    return (
        row["order_line_id"],
        order.records.supplier(row["supplier_id"])["supplier_name"],
        order.item_name(kind, row["item_id"]),
        order.quantity(row["outstanding_quantity"], kind),
        day_cell(row["delivery_date"], order.wording),
        day_cell(row["expected_date"], order.wording),
        order.money(row["committed_amount"], places=2),
    )


def _quarters(order: Order) -> Part:
    blocks = order.plan.settings.quarters
    heading = "Committed by quarter"
    if not blocks:
        return Part(heading, ("program.toml names no budgets by quarter (ordering.quarters).",))
    paid, rows = payments(order.plan.position.committed), []
    for block, left in zip(blocks, order.plan.problem.quarters, strict=True):
        is_here = pl.col("paid_date").is_between(left.begins, left.ends, closed="left")
        committed = float(paid.filter(is_here)["amount"].sum())
        rows.append(
            (
                f"from {order.wording.day(block.begins)}",
                order.money(block.budget),
                order.money(committed),
                order.money(block.budget - committed),
            )
        )
    return Part(heading, table=PaperTable(QUARTER_HEADINGS, tuple(rows)))


def _lateness(order: Order) -> Part:
    """Say how late each supplier comes, by its own record or by the allowance."""
    plan, level = order.plan, order.plan.settings.on_time_level
    rows = []
    for code, supplier in sorted(plan.problem.suppliers.items()):
        record = plan.lateness.get(code, Lateness())
        late = sum(1 for days in record.late_days if days > 0)
        rows.append(
            (
                supplier.supplier_name,
                order.count(len(record.late_days)),
                order.count(late),
                order.share(record.chance_later_than(0), 0),
                order.count(record.buffer_days(level)),
            )
        )
    note = (
        f"Bins and bedding are planned so many days ahead that they have come with a chance of "
        f"{order.wording.share(level)}. Before a supplier has a record, "
        f"{order.wording.share(PRIOR_LATE_SHARE)} of its lines are taken to come late, half of "
        "those later than any one day more (judgement, no source); each line that came moves it."
    )
    return Part(
        "How late suppliers come", table=PaperTable(LATENESS_HEADINGS, tuple(rows)), notes=(note,)
    )


HEADINGS = (
    "Line",
    "Supplier",
    "Item",
    "Day",
    "Ordered",
    "Usable, came",
    "Charged for",
    "Agreed",
    "Charged",
    "What differs",
)
LEAST_QUANTITY, LEAST_MONEY = 0.001, 0.01
LEAST_TAX = 0.05
"""Tax is rounded line by line, so that a few cents are no difference."""


def invoices_matched(order: Order) -> Paper:
    """Match every line ordered so far with what came and what was charged."""
    rows = list(order.records.matched.iter_rows(named=True))
    tax = SalesTax.of(order.program)
    found = [(row, differences(row, order, tax)) for row in rows]
    differing = [(row, words) for row, words in found if words]
    charged = [row for row in rows if row["invoices_count"]]
    open_lines = [(row, "") for row in rows if not row["invoices_count"]]
    return Paper(
        "invoices_matched",
        "Invoices matched",
        "Orders, deliveries and invoices matched",
        f"{len(differing)} of {len(charged)} lines charged differ; {len(rows) - len(charged)} "
        f"lines are not charged yet, by {order.wording.day(order.plan.from_date)}.",
        (
            _part(order, "Lines that differ", differing, "No line that was charged differs."),
            _part(order, "Lines that agree", [pair for pair in found if _agrees(pair)],
                  "No line was charged yet."),
            _part(order, "Lines not charged yet", open_lines,
                  "Every line was charged."),
        ),
        (14, 30, 30, 17, 12, 12, 12, 13, 13, 52),
    )  # fmt: skip


def _agrees(pair: tuple[dict[str, Any], str]) -> bool:
    row, words = pair
    return bool(row["invoices_count"]) and not words


def agreed_amount(row: dict[str, Any]) -> float:
    """Goods charged for at the price of the order, and its freight [currency]."""
    if not row["is_ordered"]:
        return 0.0
    price = row["goods_amount"] / row["ordered_quantity"]
    return float(round(price * row["invoiced_quantity"] + row["freight_amount"], 2))


def differences(row: dict[str, Any], order: Order, tax: SalesTax) -> str:
    """Say how a line that was charged differs from order and delivery; nothing where it agrees."""
    if not row["invoices_count"]:
        return ""
    if not row["is_ordered"]:
        return "Charged without a line of an order."
    wording, kind = order.wording, row["item_kind"]
    words = []
    usable = row["received_quantity"] - row["unusable_quantity"]
    beyond = row["invoiced_quantity"] - usable
    if abs(beyond) > LEAST_QUANTITY:
        excess = f"{wording.number(abs(beyond), 0 if kind == 'bins' else 2)} {unit_of(kind)}"
        words.append(f"Charged for {excess} {'more' if beyond > 0 else 'fewer'} than came usable.")
    unordered = row["invoiced_quantity"] - row["ordered_quantity"]
    if unordered > LEAST_QUANTITY:
        excess = f"{wording.number(unordered, 0 if kind == 'bins' else 2)} {unit_of(kind)}"
        words.append(f"Charged for {excess} more than ordered.")
    charged = row["invoiced_goods_amount"] + row["invoiced_freight_amount"]
    dearer = round(charged - agreed_amount(row), 2)
    if abs(dearer) > LEAST_MONEY:
        side = "above" if dearer > 0 else "below"
        words.append(f"{wording.money(abs(dearer), 2)} {side} the price and freight ordered.")
    due = tax.amount(row["invoiced_goods_amount"], kind) + tax.amount(
        row["invoiced_freight_amount"], "freight"
    )
    over = round(row["invoiced_tax_amount"] - due, 2)
    if abs(over) > LEAST_TAX and not tax.is_included:
        side = "more" if over > 0 else "less"
        words.append(f"{wording.money(abs(over), 2)} {side} {tax.name} than is due.")
    return " ".join(words)


def _part(order: Order, heading: str, pairs: list[tuple[dict[str, Any], str]], none: str) -> Part:
    if not pairs:
        return Part(heading, (none,))
    return Part(heading, table=PaperTable(HEADINGS, tuple(_row(order, *pair) for pair in pairs)))


def _row(order: Order, row: dict[str, Any], words: str) -> tuple[Cell, ...]:
    kind, day = row["item_kind"], row["line_date"]
    is_ordered, is_charged = row["is_ordered"], bool(row["invoices_count"])
    name = order.records.supplier(row["supplier_id"])["supplier_name"]
    usable = row["received_quantity"] - row["unusable_quantity"]
    charged = row["invoiced_goods_amount"] + row["invoiced_freight_amount"]
    return (
        row["line_id"],
        name,
        order.item_name(kind, row["item_id"]) if is_ordered else "no line of an order",
        _day(day, order),
        order.quantity(row["ordered_quantity"], kind) if is_ordered else None,
        order.quantity(usable, kind) if is_ordered else None,
        order.quantity(row["invoiced_quantity"], kind) if is_charged else None,
        order.money(agreed_amount(row), places=2) if is_ordered and is_charged else None,
        order.money(charged, places=2) if is_charged else None,
        words,
    )


def _day(day: dt.date, order: Order) -> Cell:
    return day_cell(day, order.wording)
