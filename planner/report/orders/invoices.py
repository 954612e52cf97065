"""Order, delivery and invoice of each line set side by side, and how they differ."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.report.orders.order import day_cell, unit_of
from planner.report.orders.papers import Paper, PaperTable, Part
from planner.report.orders.taxes import SalesTax

if TYPE_CHECKING:
    import datetime as dt

    from planner.cells import Cell
    from planner.report.orders.order import Order

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
