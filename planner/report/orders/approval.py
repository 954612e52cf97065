"""The sheet that is approved: what it costs, quarter by quarter, and what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.cells import Cell, Number
from planner.messages import said
from planner.ordering.alternatives import is_near
from planner.ordering.demand import WORMS
from planner.ordering.plan import (
    cost_by_quarter,
    cost_by_supplier,
    excess_notes,
    overall_levels,
)
from planner.program.money import SalesTax
from planner.report.orders.clash_words import describe_changes, lack_words
from planner.report.orders.order import (
    Order,
    columns,
    day_cell,
    level_cell,
    option_words,
    proof_of,
    quantity_format,
    sure_words,
    undone_words,
    without_cost,
)
from planner.report.wording import listing
from planner.report.workbook.formats import number_format

if TYPE_CHECKING:
    from planner.report.workbook.page import Book, Page

WIDTHS = (34, 15, 15, 15, 17, 17)
SIGNATURES = ("prepared", "budget", "procurement", "approved")


def add_approval(book: Book, order: Order) -> None:
    """Write the summary for approval."""
    council = order.program.council.name
    begins = order.wording.day(order.plan.from_date)
    footer = said("order.footer", council=council, day=begins)
    page = book.page("order.approval.sheet", WIDTHS, footer=footer)
    page.title("order.approval.title")
    page.note(said("order.approval.lead", council=council, prices=prices_words(order)))
    page.lead(_decision(order))
    if order.plan.clashes is not None:
        page.section("order.approval.changes")
        page.note("order.approval.changes_lead")
        least, problem = order.plan.clashes.least, order.plan.clashes.problem
        for words in describe_changes(least, problem, order.wording):
            page.note(f"• {words}")
        for words in lack_words(order.plan, order.wording):
            page.note(words)
    if order.plan.has_lines:
        _quarters(page, order)
        _suppliers(page, order)
        page.note(_threshold(order))
        _goods(page, order)
    _certainty(page, order)
    _service_costs(page, order)
    if order.plan.climate_options:
        page.section("order.approval.climate")
        for option in order.plan.climate_options:
            page.note(f"• {option_words(option, order.plan, order.wording)}")
    if order.plan.has_lines:
        _alternatives(page, order)
        _signatures(page, order)


def prices_words(order: Order) -> str:
    """Say how prices are meant: in the council's own words, or by the tax in them."""
    if order.plan.settings.prices_are is not None:
        return said("order.prices_are", words=order.plan.settings.prices_are)
    tax = SalesTax.of(order.program)
    return said(f"order.prices_{'with' if tax.is_included else 'without'}_tax", tax=tax.name)


def _decision(order: Order) -> str:
    wording = order.wording
    days = order.plan.demand.events.event_dates
    span = said("order.span", first=wording.day(days[0]), last=wording.day(days[-1]))
    count = said("order.days", len(days))
    suppliers = [order.supplier_name(code) for code in order.solution.suppliers]
    first = "".join(f"{words} " for words in undone_words(order.plan))
    first += "".join(f"{note} " for note in excess_notes(order.plan))
    if not order.plan.has_lines:
        return first + said("order.approval.nothing", days=count, span=span)
    tax = SalesTax.of(order.program)
    key = "order.approval.approve_taxed" if tax.is_included else "order.approval.approve"
    amounts = {"amount": wording.money(order.solution.cost), "tax": tax.name}
    amounts["taxed"] = wording.money(_with_tax(order, tax))
    return first + said(key, **amounts, suppliers=listing(suppliers), days=count, span=span)


def _quarters(page: Page, order: Order) -> None:
    page.section("order.approval.quarters")
    rows: list[list[Cell]] = []
    quarters = cost_by_quarter(order.plan, order.lines)
    # quarters that are over can take no delivery
    is_over = pl.col("begins").shift(-1) <= order.plan.from_date
    for begins, landed, budget in quarters.filter(~is_over.fill_null(value=False)).iter_rows():
        name = said("order.approval.no_budget_days")
        if begins:
            name = said("order.from_day", day=order.wording.day(begins))
        left = None if budget is None else budget - landed
        judged = "no_budget" if left is None else "within" if left >= 0 else "over"
        rows.append(
            [name, order.money(landed), order.money(budget, "–"),
             order.money(left, "–"), said(f"order.approval.{judged}")]
        )  # fmt: skip
    total = float((order.lines["goods_amount"] + order.lines["freight_amount"]).sum())
    page.table(
        columns("quarter goods_and_freight budget_left then_left -"),
        rows,
        [said("order.whole"), order.money(total), "", "", ""],
    )
    if not order.plan.problem.quarters:
        page.note("order.approval.no_quarters")


def _suppliers(page: Page, order: Order) -> None:
    page.section("order.approval.suppliers")
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
        said("order.whole"),
        *(order.money(float(costs[f"{name}_amount"].sum()))
          for name in ("goods", "freight", "landed")),
        Number(1.0, share),
        Number(float(costs["deliveries_count"].sum())),
    ]  # fmt: skip
    page.table(columns("supplier goods freight together share deliveries"), rows, sums)


def _threshold(order: Order) -> str:
    wording = order.wording
    threshold = order.plan.settings.procurement_threshold
    if threshold is None:
        return said("order.approval.no_threshold")
    limit = wording.money(threshold)
    costs = cost_by_supplier(order.lines)
    over = [
        order.supplier_name(code)
        for code, landed in costs.select("supplier_id", "landed_amount").iter_rows()
        if landed >= threshold
    ]
    total = float(costs["landed_amount"].sum())
    if over:
        return said("order.approval.threshold_reached", limit=limit, suppliers=listing(over))
    kept = said("order.approval.threshold_kept", limit=limit)
    if total < threshold:
        return kept
    return f"{kept} {said('order.approval.threshold_together', amount=wording.money(total))}"


def _goods(page: Page, order: Order) -> None:
    page.section("order.approval.goods")
    by = ("item_kind", "item_id", "packing")
    by_item = order.lines.group_by(by).agg(
        pl.col("ordered_quantity", "packs_count", "goods_amount").sum(),
        pl.col("delivery_date").min().alias("first"),
        pl.col("delivery_date").max().alias("last"),
    )
    rows: list[list[Cell]] = [
        [
            order.item_name(*item),
            Number(quantity, quantity_format(item[0], order.wording)),
            Number(float(packs)),
            order.money(goods),
            day_cell(first, order.wording),
            day_cell(last, order.wording),
        ]
        for *item, quantity, packs, goods, first, last in by_item.sort(by).iter_rows()
    ]
    page.table(columns("item quantity packs goods first_comes last_comes"), rows)


def _certainty(page: Page, order: Order) -> None:
    wording = order.wording
    page.section("order.approval.certainty")
    settings, share = order.plan.settings, wording.share
    service = said(
        "order.approval.service",
        broken=share(settings.broken_share, 1),
        faulty=share(settings.faulty_share, 1),
        day=share(settings.event_service_level),
        all=share(settings.overall_service_level),
    )
    # how many are booked, or counted where days have no bookings yet, and how many come
    events, come = order.plan.demand.events, share(settings.show_up_share)
    key = "order.approval.counted" if events.unbooked_ids else "order.approval.booked"
    page.note(f"{said(key, int(events.booked_count.sum()), come=come)} {service}")
    names = {model: order.item_name("bins", model) for model in order.plan.demand.bins}
    names[WORMS] = said("order.item.live")
    rows: list[list[Cell]] = [
        [names.get(item, item), level_cell(level, wording)]
        for item, level in overall_levels(order.plan, order.lines).items()
    ]
    page.table(columns("none_short at_least"), rows)
    ending, most = proof_of(order.solution, wording)
    page.note(said(f"order.approval.bound.{ending}", share=most))
    for note in order.plan.notes:
        page.note(note)


def _service_costs(page: Page, order: Order) -> None:
    page.section("order.approval.service_costs")
    rows: list[list[Cell]] = [
        [sure_words(one.overall_level, order.plan, order.wording),
         without_cost(is_decided=one.is_decided) if one.cost is None else order.money(one.cost),
         "" if one.cost is None else order.money(one.cost - order.solution.cost)]
        for one in order.plan.service_costs
    ]  # fmt: skip
    page.table(columns("chance goods_and_freight more_than_order"), rows)


def _alternatives(page: Page, order: Order) -> None:
    page.section("order.approval.alternatives")
    names = {code: one.supplier_name for code, one in order.plan.problem.suppliers.items()}
    rows: list[list[Cell]] = []
    for one in order.plan.alternatives:
        left_out = listing(names[code] for code in one.without)
        without = said("order.approval.without", suppliers=left_out)
        if one.more_cost is None:
            rows.append([without, "", "", without_cost(is_decided=one.is_decided)])
            continue
        near = "near" if is_near(one, order.solution.cost) else "dearer"
        share = order.share(one.more_cost / order.solution.cost)
        rows.append([without, order.money(one.more_cost), share, said(f"order.approval.{near}")])
    page.table(columns("choice costs_more share -"), rows)


def _signatures(page: Page, order: Order) -> None:
    """Name who signs an order of this amount, and say what tax its purchase orders bear."""
    page.section("order.approval.signatures")
    tax = SalesTax.of(order.program)
    key = f"order.approval.tax_{'held' if tax.is_included else 'added'}"
    key += "" if tax.is_named else "_unchecked"
    page.note(said(key, tax=tax.name, share=order.wording.rate(tax.share)))
    roles = order.program.purchasing.signers(_with_tax(order, tax))
    who = roles or [said(f"order.signer.{one}") for one in SIGNATURES]
    page.table(columns("- name - signature - date"), [[one, *[""] * 5] for one in who])


def _with_tax(order: Order, tax: SalesTax) -> float:
    """Add up goods and freight with their tax."""
    goods = order.lines.group_by("item_kind").agg(pl.col("goods_amount").sum()).sort("item_kind")
    bills = [("freight", float(order.lines["freight_amount"].sum())), *goods.rows()]
    return sum(tax.without(price, kind) + tax.amount(price, kind) for kind, price in bills)
