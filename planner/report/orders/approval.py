"""The sheet that is approved: what it costs, quarter by quarter, and what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.cells import Number
from planner.ordering.alternatives import is_near
from planner.ordering.demand import WORMS
from planner.ordering.plan import (
    cost_by_quarter,
    cost_by_supplier,
    excess_notes,
    overall_levels,
)
from planner.report.orders.clash_words import told_changes
from planner.report.orders.order import (
    day_cell,
    level_cell,
    option_words,
    quantity_format,
    sure_words,
    undone_words,
    without_cost,
)
from planner.report.orders.purchase_orders import SalesTax
from planner.report.wording import listing
from planner.report.workbook.formats import number_format

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.report.orders.order import Order
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

WIDTHS = (34, 15, 15, 15, 17, 17)
SIGNATURES = ("Prepared by", "Budget holder", "Procurement", "Approved by")


def add_approval(book: Book, order: Order) -> None:
    """Write the summary for approval."""
    page = book.add("Approval", WIDTHS)
    page.title("Order for approval: worms, bins and bedding")
    page.note(f"{order.program.council.name}. Prices {order.plan.settings.prices_are}.")
    page.lead(_decision(order))
    if order.plan.clashes is not None:
        _changes(page, order)
    if order.plan.has_lines:
        _quarters(page, order)
        _suppliers(page, order)
        page.note(_threshold(order))
        _goods(page, order)
    _certainty(page, order)
    _service_costs(page, order)
    _climate(page, order)
    if order.plan.has_lines:
        _alternatives(page, order)
        _signatures(page, order)
    page.finish(
        f"{order.program.council.name}: order from {order.wording.day(order.plan.from_date)}"
    )


def _decision(order: Order) -> str:
    wording = order.wording
    days = order.plan.demand.events.event_dates
    span = f"{wording.day(days[0])} to {wording.day(days[-1])}"
    suppliers = [order.supplier_name(code) for code in order.solution.suppliers]
    first = "".join(f"{words} " for words in undone_words(order.plan))
    first += "".join(f"{note} " for note in excess_notes(order.plan))
    if not order.plan.has_lines:
        return (
            f"{first}Nothing to order: everything needed for {len(days)} hand-over days, {span}, "
            "is in store or on order."
        )
    return (
        f"{first}Approve {wording.money(order.solution.cost)} to {listing(suppliers)} "
        f"for {len(days)} hand-over days, {span}."
    )


def _changes(page: Page, order: Order) -> None:
    page.section("What this order asks to change")
    page.note("No plan meets every limit of the program file. This one holds if you agree to:")
    if order.plan.clashes is not None:
        for words in told_changes(
            order.plan.clashes.least, order.plan.clashes.problem, order.wording
        ):
            page.note(f"• {words}")


def _quarters(page: Page, order: Order) -> None:
    page.section("By quarter")
    rows: list[list[Cell]] = []
    for begins, landed, budget in cost_by_quarter(order.plan, order.lines).iter_rows():
        name = f"from {order.wording.day(begins)}" if begins else "days without a budget"
        left = None if budget is None else budget - landed
        judged = "no budget named" if left is None else "within" if left >= 0 else "over budget"
        rows.append(
            [name, order.money(landed), order.money(budget, "–"),
             order.money(left, "–"), judged]
        )  # fmt: skip
    total = float((order.lines["goods_amount"] + order.lines["freight_amount"]).sum())
    page.table(
        ("Quarter of delivery", "Goods and freight", "Budget left", "Then left", ""),
        rows,
        ["Whole order", order.money(total), "", "", ""],
    )
    if not order.plan.problem.quarters:
        page.note("program.toml names no budgets by quarter (ordering.quarters).")


def _suppliers(page: Page, order: Order) -> None:
    page.section("By supplier")
    costs = cost_by_supplier(order.lines)
    total = float(costs["landed_amount"].sum())
    share = number_format("share", 0, order.wording)
    rows: list[list[Cell]] = [
        [
            order.supplier_name(row["supplier_id"]),
            order.money(row["goods_amount"]),
            order.money(row["freight_amount"]),
            order.money(row["landed_amount"]),
            Number(row["landed_amount"] / total, share),
            Number(float(row["deliveries_count"])),
        ]
        for row in costs.iter_rows(named=True)
    ]
    sums: list[Cell] = [
        "Whole order",
        *(order.money(float(costs[f"{name}_amount"].sum()))
          for name in ("goods", "freight", "landed")),
        Number(1.0, share),
        Number(float(costs["deliveries_count"].sum())),
    ]  # fmt: skip
    headings = ("Supplier", "Goods", "Freight", "Together", "Share", "Deliveries")
    page.table(headings, rows, sums)


def _threshold(order: Order) -> str:
    wording = order.wording
    threshold = order.plan.settings.procurement_threshold
    if threshold is None:
        return (
            "program.toml names no procurement threshold. Ask procurement which rule applies to "
            "the whole of what is spent with each supplier, earlier orders among it."
        )
    limit = wording.money(threshold)
    costs = cost_by_supplier(order.lines)
    over = [
        order.supplier_name(code)
        for code, landed in costs.select("supplier_id", "landed_amount").iter_rows()
        if landed >= threshold
    ]
    total = float(costs["landed_amount"].sum())
    if over:
        return (
            f"Procurement threshold {limit}: reached with {listing(over)}. A tender or its equal "
            "is needed before the order goes out."
        )
    rest = (
        f" All suppliers together reach it ({wording.money(total)}): ask procurement whether they "
        "count as one purchase. Orders must not be split to stay below."
        if total >= threshold
        else ""
    )
    return f"Procurement threshold {limit}: not reached with any supplier by this order.{rest}"


def _goods(page: Page, order: Order) -> None:
    page.section("What is bought")
    by_item = (
        order.lines.group_by("item_kind", "item_id", "packing")
        .agg(
            packs_count=pl.col("packs_count").sum(),
            quantity=pl.col("ordered_quantity").sum(),
            goods=pl.col("goods_amount").sum(),
            first=pl.col("delivery_date").min(),
            last=pl.col("delivery_date").max(),
        )
        .sort("item_kind", "item_id", "packing")
    )
    rows: list[list[Cell]] = []
    for row in by_item.iter_rows(named=True):
        rows.append(
            [
                order.item_name(row["item_kind"], row["item_id"], row["packing"]),
                Number(row["quantity"], quantity_format(row["item_kind"], order.wording)),
                Number(float(row["packs_count"])),
                order.money(row["goods"]),
                day_cell(row["first"], order.wording),
                day_cell(row["last"], order.wording),
            ]
        )
    headings = ("Item", "Quantity", "Packs", "Goods", "First comes", "Last comes")
    page.table(headings, rows)


def _certainty(page: Page, order: Order) -> None:
    wording = order.wording
    page.section("How sure it is")
    settings, booked = order.plan.settings, order.plan.demand.events.booked_count.sum()
    page.note(
        f"{wording.number(float(booked))} households are booked; "
        f"{wording.share(settings.show_up_share)} are expected to come. Of bins "
        f"{wording.share(settings.broken_share, 1)} come broken and "
        f"{wording.share(settings.faulty_share, 1)} prove faulty. Each hand-over day is to have "
        f"enough with a chance of {wording.share(settings.event_service_level)}, and none is to "
        f"run short of anything with one of {wording.share(settings.overall_service_level)}."
    )
    names = {model: order.item_name("bins", model) for model in order.plan.demand.bins}
    names[WORMS] = "Live worms"
    rows: list[list[Cell]] = [
        [names.get(item, item), level_cell(level, wording)]
        for item, level in overall_levels(order.plan, order.lines).items()
    ]
    page.table(("Chance that none runs short of", "At least"), rows)
    effort = "; the limit of work ended the search" if order.solution.reached_limit else ""
    page.note(
        f"Least landed cost: no plan can be cheaper by more than "
        f"{wording.share(order.solution.gap, 2)}{effort}."
    )
    for note in order.plan.notes:
        page.note(note)


def _service_costs(page: Page, order: Order) -> None:
    if not order.plan.service_costs:
        return
    page.section("What certainty costs")
    rows: list[list[Cell]] = [
        [sure_words(one.overall_level, order.plan, order.wording),
         without_cost(is_decided=one.is_decided) if one.cost is None else order.money(one.cost),
         "" if one.cost is None else order.money(one.cost - order.solution.cost)]
        for one in order.plan.service_costs
    ]  # fmt: skip
    page.table(("Chance", "Goods and freight", "More than this order"), rows)


def _climate(page: Page, order: Order) -> None:
    """Set out what can be done about heat and frost next to what it costs."""
    options, wording = order.plan.climate_options, order.wording
    if not options:
        return
    page.section("Heat and frost: what can be done")
    for option in options:
        page.note(f"• {option_words(option, order.plan, wording)}")


def _alternatives(page: Page, order: Order) -> None:
    page.section("Other choices of suppliers")
    names = {code: one.supplier_name for code, one in order.plan.problem.suppliers.items()}
    rows: list[list[Cell]] = []
    for one in order.plan.alternatives:
        without = f"Without {listing(names[code] for code in one.without)}"
        if one.more_cost is None:
            rows.append([without, "", "", without_cost(is_decided=one.is_decided)])
            continue
        near = "within 2%" if is_near(one, order.solution.cost) else "dearer than 2%"
        share = Number(
            one.more_cost / order.solution.cost, number_format("share", 1, order.wording)
        )
        rows.append([without, order.money(one.more_cost), share, near])
    page.table(("Choice", "Costs more", "Share", ""), rows)


def _signatures(page: Page, order: Order) -> None:
    """Name who signs an order of this amount, and say what tax its purchase orders bear."""
    page.section("Approval")
    tax, terms = SalesTax.of(order.program), order.program.purchasing
    share = order.wording.share(tax.share, 1)
    source = "by program.toml" if tax.is_named else "the standard rate of the country; check it"
    page.note(
        f"Purchase orders add {tax.name} at {share} ({source}, [purchasing.tax] of program.toml)."
        if not tax.is_included
        else f"Prices hold {tax.name} at {share} ({source}, [purchasing.tax] of program.toml)."
    )
    goods = order.lines.group_by("item_kind").agg(pl.col("goods_amount").sum()).sort("item_kind")
    bills = [("freight", float(order.lines["freight_amount"].sum())), *goods.rows()]
    amount = sum(tax.without(price, kind) + tax.amount(price, kind) for kind, price in bills)
    rows: list[list[Cell]] = [[who, *[""] * 5] for who in terms.signers(amount) or SIGNATURES]
    page.table(("", "Name", "", "Signature", "", "Date"), rows)
