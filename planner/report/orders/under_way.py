"""Orders placed before: what is to come and committed, and what came beside what was charged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import polars as pl

from planner.cells import Cell
from planner.messages import said
from planner.ordering.commitments import payments
from planner.ordering.slots import PRIOR_LATE_SHARE, Lateness
from planner.program.money import SalesTax
from planner.report.orders.order import Order, columns, day_cell, quantity_words
from planner.report.orders.papers import Paper, PaperTable, Part
from planner.report.wording import Wording

COMING = "line supplier item still_to_come agreed_for counted_from committed"
LATENESS = "supplier lines_in_record came_late chance_late days_ahead"
MATCHED = "line supplier item day ordered usable_came charged_for agreed charged differs"


def orders_under_way(order: Order) -> Paper:
    """Set out orders placed before, on the first day of this one."""
    plan, day = order.plan, order.wording.day(order.plan.from_date)
    coming = plan.position.outstanding.sort("delivery_date", "order_line_id")
    overdue = plan.position.overdue.height
    return Paper(
        "orders_under_way",
        said("order.under_way.sheet"),
        said("order.under_way.title"),
        said("order.under_way.lead", coming.height, overdue=overdue, day=day),
        (_coming(order, coming), _quarters(order), _lateness(order)),
        (16, 32, 34, 17, 17, 17, 15),
    )


def _coming(order: Order, coming: pl.DataFrame) -> Part:
    heading = said("order.under_way.coming")
    if coming.is_empty():
        return Part(heading, (said("order.under_way.nothing"),))
    rows = tuple(_coming_row(order, row) for row in coming.iter_rows(named=True))
    note = said("order.under_way.note")
    return Part(heading, table=PaperTable(columns(COMING), rows), notes=(note,))


def _coming_row(order: Order, row: dict[str, Any]) -> tuple[Cell, ...]:
    kind = row["item_kind"]
    return (
        row["order_line_id"],
        order.supplier(row["supplier_id"])["supplier_name"],
        order.item_name(kind, row["item_id"]),
        order.quantity(row["outstanding_quantity"], kind),
        day_cell(row["delivery_date"], order.wording),
        day_cell(row["expected_date"], order.wording),
        order.money(row["committed_amount"], places=2),
    )


def _quarters(order: Order) -> Part:
    blocks = order.plan.settings.quarters
    heading = said("order.under_way.quarters")
    if not blocks:
        return Part(heading, (said("order.approval.no_quarters"),))
    paid = payments(order.plan.position.committed)
    rows: list[tuple[Cell, ...]] = []
    for block, left in zip(blocks, order.plan.problem.quarters, strict=True):
        is_here = pl.col("paid_date").is_between(left.begins, left.ends, closed="left")
        committed = float(paid.filter(is_here)["amount"].sum())
        begins = said("order.from_day", day=order.wording.day(block.begins))
        amounts = (block.budget, committed, block.budget - committed)
        rows.append((begins, *map(order.money, amounts)))
    headings = columns("quarter budget committed_before left_for_orders")
    return Part(heading, table=PaperTable(headings, tuple(rows)))


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
    shares = {"level": order.wording.share(level), "prior": order.wording.share(PRIOR_LATE_SHARE)}
    note = said("order.under_way.lateness_note", **shares)
    table = PaperTable(columns(LATENESS), tuple(rows))
    return Part(said("order.under_way.lateness"), table=table, notes=(note,))


LEAST_QUANTITY, LEAST_MONEY = 0.001, 0.01
LEAST_TAX = 0.05
"""Tax is rounded line by line, so that a few cents are no difference."""


def invoices_matched(order: Order) -> Paper:
    """Match every line ordered so far with what came and what was charged."""
    rows = list(order.matched.iter_rows(named=True))
    tax = SalesTax.of(order.program)
    found = [(row, differences(row, order, tax)) for row in rows]
    differing = [(row, words) for row, words in found if words]
    agreeing = [(row, words) for row, words in found if row["invoices_count"] and not words]
    charged = [row for row in rows if row["invoices_count"]]
    open_lines = [(row, "") for row in rows if not row["invoices_count"]]
    return Paper(
        "invoices_matched",
        said("order.invoices.sheet"),
        said("order.invoices.title"),
        said(
            "order.invoices.lead_taxed" if tax.is_included else "order.invoices.lead",
            differ=len(differing),
            charged=len(charged),
            open=len(rows) - len(charged),
            day=order.wording.day(order.plan.from_date),
            **({"tax": tax.name} if tax.is_included else {}),
        ),
        (
            _part(order, "differ", differing),
            _part(order, "agree", agreeing),
            _part(order, "open", open_lines),
        ),
        (14, 30, 30, 17, 12, 12, 12, 13, 13, 52),
    )  # fmt: skip


def agreed_amount(row: dict[str, Any]) -> float:
    """Goods charged for at the price of the order, and its freight [currency]."""
    if not row["is_ordered"]:
        return 0.0
    price = row["goods_amount"] / row["ordered_quantity"]
    return float(round(price * row["invoiced_quantity"] + row["freight_amount"], 2))


def charged_share(row: dict[str, Any], tax: SalesTax) -> float:
    """How many times goods and freight as charged are to be taken, to hold tax as prices do.

    Where prices include tax, an invoice whose goods come nearer to their price with the tax put
    on them was written without it.
    """
    goods = row["invoiced_goods_amount"]
    charged = goods + row["invoiced_freight_amount"]
    if not (tax.is_included and row["is_ordered"] and charged):
        return 1.0
    taxed = 1.0 + row["invoiced_tax_amount"] / charged
    agreed = row["goods_amount"] / row["ordered_quantity"] * row["invoiced_quantity"]
    return taxed if abs(goods * taxed - agreed) < abs(goods - agreed) else 1.0


def differences(row: dict[str, Any], order: Order, tax: SalesTax) -> str:
    """Say how a line that was charged differs from order and delivery; nothing where it agrees."""
    if not row["invoices_count"]:
        return ""
    if not row["is_ordered"]:
        return said("order.invoices.no_order")
    wording, kind = order.wording, row["item_kind"]
    words = []
    usable = row["received_quantity"] - row["unusable_quantity"]
    beyond = row["invoiced_quantity"] - usable
    if abs(beyond) > LEAST_QUANTITY:
        key = f"order.invoices.{'more' if beyond > 0 else 'fewer'}_than_usable"
        words.append(said(key, quantity=_excess(abs(beyond), kind, wording)))
    unordered = row["invoiced_quantity"] - row["ordered_quantity"]
    if unordered > LEAST_QUANTITY:
        excess = _excess(unordered, kind, wording)
        words.append(said("order.invoices.more_than_ordered", quantity=excess))
    share = charged_share(row, tax)
    goods, freight = (row[f"invoiced_{name}_amount"] * share for name in ("goods", "freight"))
    dearer = round(goods + freight - agreed_amount(row), 2)
    if abs(dearer) > LEAST_MONEY:
        key = "order.invoices.above" if dearer > 0 else "order.invoices.below"
        words.append(said(key, amount=wording.money(abs(dearer), 2)))
    due = tax.amount(goods, kind) + tax.amount(freight, "freight")
    over = round(row["invoiced_tax_amount"] - due, 2)
    if abs(over) > LEAST_TAX:
        key = "order.invoices.more_tax" if over > 0 else "order.invoices.less_tax"
        words.append(said(key, amount=wording.money(abs(over), 2), tax=tax.name))
    return " ".join(words)


def _excess(quantity: float, kind: str, wording: Wording) -> str:
    """Write a quantity to the piece or to 10 g, as a supplier would claim it."""
    if kind == "bins":
        return quantity_words(quantity, kind, wording)
    return f"{wording.number(quantity, 2)} kg"


def _part(order: Order, which: str, pairs: Sequence[tuple[dict[str, Any], str]]) -> Part:
    heading = said(f"order.invoices.{which}")
    if not pairs:
        return Part(heading, (said(f"order.invoices.no_{which}"),))
    tax = SalesTax.of(order.program)
    rows = tuple(_row(order, *pair, tax) for pair in pairs)
    return Part(heading, table=PaperTable(columns(MATCHED), rows))


def _row(order: Order, row: dict[str, Any], words: str, tax: SalesTax) -> tuple[Cell, ...]:
    kind, is_ordered, is_charged = row["item_kind"], row["is_ordered"], bool(row["invoices_count"])
    name = order.supplier(row["supplier_id"])["supplier_name"]
    usable = row["received_quantity"] - row["unusable_quantity"]
    charged = row["invoiced_goods_amount"] + row["invoiced_freight_amount"]
    charged *= charged_share(row, tax)
    return (
        row["line_id"],
        name,
        order.item_name(kind, row["item_id"]) if is_ordered else said("order.invoices.no_line"),
        day_cell(row["line_date"], order.wording),
        order.quantity(row["ordered_quantity"], kind) if is_ordered else None,
        order.quantity(usable, kind) if is_ordered else None,
        order.quantity(row["invoiced_quantity"], kind) if is_charged else None,
        order.money(agreed_amount(row), places=2) if is_ordered and is_charged else None,
        order.money(charged, places=2) if is_charged else None,
        words,
    )
