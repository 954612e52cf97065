"""Orders placed before: what is still to come, what they commit, how late suppliers come."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from planner.ordering.commitments import payments
from planner.ordering.lateness import PRIOR_LATE_SHARE, Lateness
from planner.report.orders.order import day_cell
from planner.report.orders.papers import Paper, PaperTable, Part

if TYPE_CHECKING:
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
