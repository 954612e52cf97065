"""The sheet that is approved: what it costs, quarter by quarter, and what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.ordering.alternatives import is_near
from planner.ordering.demand import WORMS
from planner.ordering.plan import cost_by_quarter, cost_by_supplier, overall_levels
from planner.report.orders.clash_words import told_changes
from planner.report.orders.numbered import day_cell, item_name, level_cell, quantity_format
from planner.report.wording import listing
from planner.report.workbook.cells import Number, number_format
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.ordering.plan import OrderPlan
    from planner.ordering.solving import Solution
    from planner.program import Program
    from planner.report.wording import Wording
    from planner.report.workbook.cells import Cell

WIDTHS = (34, 15, 15, 15, 17, 17)
SIGNATURES = ("Prepared by", "Budget holder", "Procurement", "Approved by")


def add_approval(
    workbook: Workbook,
    plan: OrderPlan,
    solution: Solution,
    lines: pl.DataFrame,
    program: Program,
    wording: Wording,
) -> None:
    """Write the summary for approval."""
    page = Page(workbook, "Approval", WIDTHS)
    page.title("Order for approval: worms, bins and bedding")
    page.note(f"{program.council.name}. Prices {plan.settings.prices_are}.")
    page.lead(_decision(plan, solution, wording))
    if plan.clashes is not None:
        _changes(page, plan, wording)
    _quarters(page, plan, lines, wording)
    _suppliers(page, plan, lines, wording)
    page.note(_threshold(plan, lines, wording))
    _goods(page, lines, program, wording)
    _certainty(page, plan, solution, lines, program, wording)
    _alternatives(page, plan, solution, wording)
    _signatures(page)
    page.finish(f"{program.council.name}: order from {wording.day(plan.from_date)}")


def _decision(plan: OrderPlan, solution: Solution, wording: Wording) -> str:
    days = plan.demand.events.event_dates
    span = f"{wording.day(days[0])} to {wording.day(days[-1])}"
    suppliers = [plan.problem.suppliers[code].supplier_name for code in solution.suppliers]
    return (
        f"Approve {wording.money(solution.cost)} to {listing(suppliers)} for {len(days)} "
        f"hand-over days, {span}."
    )


def _changes(page: Page, plan: OrderPlan, wording: Wording) -> None:
    page.section("What this order asks to change")
    page.note("No plan meets every limit of the program file. This one holds if you agree to:")
    if plan.clashes is not None:
        for words in told_changes(plan.clashes.least, plan.clashes.problem, wording):
            page.note(f"• {words}")


def _money(value: float | None, wording: Wording, words: str = "") -> Cell:
    return Number(value, number_format(wording.currency, 0, wording), words)


def _quarters(page: Page, plan: OrderPlan, lines: pl.DataFrame, wording: Wording) -> None:
    page.section("By quarter")
    rows: list[list[Cell]] = []
    for begins, landed, budget in cost_by_quarter(plan, lines).iter_rows():
        name = f"from {wording.day(begins)}" if begins else "days without a budget"
        left = None if budget is None else budget - landed
        judged = "no budget named" if left is None else "within" if left >= 0 else "over budget"
        rows.append(
            [name, _money(landed, wording), _money(budget, wording, "–"),
             _money(left, wording, "–"), judged]
        )  # fmt: skip
    total = float((lines["goods_amount"] + lines["freight_amount"]).sum())
    page.table(
        ("Quarter of delivery", "Goods and freight", "Budget left", "Then left", ""),
        rows,
        ["Whole order", _money(total, wording), "", "", ""],
    )
    if not plan.problem.quarters:
        page.note("program.toml names no budgets by quarter (ordering.quarters).")


def _suppliers(page: Page, plan: OrderPlan, lines: pl.DataFrame, wording: Wording) -> None:
    page.section("By supplier")
    costs = cost_by_supplier(lines)
    total = float(costs["landed_amount"].sum())
    share = number_format("share", 0, wording)
    rows: list[list[Cell]] = [
        [
            plan.problem.suppliers[row["supplier_id"]].supplier_name,
            _money(row["goods_amount"], wording),
            _money(row["freight_amount"], wording),
            _money(row["landed_amount"], wording),
            Number(row["landed_amount"] / total, share),
            Number(float(row["deliveries_count"])),
        ]
        for row in costs.iter_rows(named=True)
    ]
    sums: list[Cell] = [
        "Whole order",
        *(_money(float(costs[f"{name}_amount"].sum()), wording)
          for name in ("goods", "freight", "landed")),
        Number(1.0, share),
        Number(float(costs["deliveries_count"].sum())),
    ]  # fmt: skip
    headings = ("Supplier", "Goods", "Freight", "Together", "Share", "Deliveries")
    page.table(headings, rows, sums)


def _threshold(plan: OrderPlan, lines: pl.DataFrame, wording: Wording) -> str:
    threshold = plan.settings.procurement_threshold
    if threshold is None:
        return (
            "program.toml names no procurement threshold. Ask procurement which rule applies to "
            "the whole of what is spent with each supplier, earlier orders among it."
        )
    limit = wording.money(threshold)
    costs = cost_by_supplier(lines)
    over = [
        plan.problem.suppliers[code].supplier_name
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


def _goods(page: Page, lines: pl.DataFrame, program: Program, wording: Wording) -> None:
    page.section("What is bought")
    by_item = (
        lines.group_by("item_kind", "item_id")
        .agg(
            packs_count=pl.col("packs_count").sum(),
            quantity=pl.col("ordered_quantity").sum(),
            goods=pl.col("goods_amount").sum(),
            first=pl.col("delivery_date").min(),
            last=pl.col("delivery_date").max(),
        )
        .sort("item_kind", "item_id")
    )
    rows: list[list[Cell]] = []
    for row in by_item.iter_rows(named=True):
        rows.append(
            [
                item_name(program, row["item_kind"], row["item_id"]),
                Number(row["quantity"], quantity_format(row["item_kind"], wording)),
                Number(float(row["packs_count"])),
                _money(row["goods"], wording),
                day_cell(row["first"], wording),
                day_cell(row["last"], wording),
            ]
        )
    headings = ("Item", "Quantity", "Packs", "Goods", "First comes", "Last comes")
    page.table(headings, rows)


def _certainty(
    page: Page,
    plan: OrderPlan,
    solution: Solution,
    lines: pl.DataFrame,
    program: Program,
    wording: Wording,
) -> None:
    page.section("How sure it is")
    settings = plan.settings
    page.note(
        f"{wording.number(float(plan.demand.events.booked_count.sum()))} households are booked; "
        f"{wording.share(settings.show_up_share)} are expected to come. Of bins "
        f"{wording.share(settings.broken_share, 1)} come broken and "
        f"{wording.share(settings.faulty_share, 1)} prove faulty. Each hand-over day is to have "
        f"enough with a chance of {wording.share(settings.event_service_level)}, and none is to "
        f"run short of anything with one of {wording.share(settings.overall_service_level)}."
    )
    names = {model: item_name(program, "bins", model) for model in plan.demand.bins}
    names[WORMS] = "Live worms"
    rows: list[list[Cell]] = [
        [names.get(item, item), level_cell(level, wording)]
        for item, level in overall_levels(plan, lines).items()
    ]
    page.table(("Chance that none runs short of", "At least"), rows)
    effort = "; the time limit ended the search" if solution.reached_limit else ""
    page.note(
        f"Least landed cost: no plan can be cheaper by more than "
        f"{wording.share(solution.gap, 2)}{effort}."
    )
    for note in plan.notes:
        page.note(note)


def _alternatives(page: Page, plan: OrderPlan, solution: Solution, wording: Wording) -> None:
    page.section("Other choices of suppliers")
    names = {code: one.supplier_name for code, one in plan.problem.suppliers.items()}
    rows: list[list[Cell]] = []
    for one in plan.alternatives:
        without = f"Without {listing(names[code] for code in one.without)}"
        if one.more_cost is None:
            rows.append([without, "", "", "no plan"])
            continue
        near = "within 2%" if is_near(one, solution.cost) else "dearer than 2%"
        share = Number(one.more_cost / solution.cost, number_format("share", 1, wording))
        rows.append([without, _money(one.more_cost, wording), share, near])
    page.table(("Choice", "Costs more", "Share", ""), rows)


def _signatures(page: Page) -> None:
    page.section("Approval")
    page.table(
        ("", "Name", "", "Signature", "", "Date"), [[who, "", "", "", "", ""] for who in SIGNATURES]
    )
