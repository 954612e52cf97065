"""What each hand-over day needs and has, and what the quantities rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.ordering.plan import event_table
from planner.report.orders.numbered import day_cell, level_cell
from planner.report.wording import listing
from planner.report.workbook.cells import Number, number_format
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    import polars as pl
    from openpyxl import Workbook

    from planner.ordering.plan import OrderPlan
    from planner.program import Program
    from planner.report.wording import Wording
    from planner.report.workbook.cells import Cell

EVENT_HEADINGS = (
    "Place",
    "Day",
    "Date",
    "Booked",
    "Expected",
    "Bins bought by then",
    "Chance enough",
    "Starters to have",
    "Alive on the day",
    "Sent for it",
    "Chance enough",
)
SHOWN_MONTHS = (0, 1, 2, 3, 6, 12)


def add_quantities(
    workbook: Workbook, plan: OrderPlan, lines: pl.DataFrame, program: Program, wording: Wording
) -> None:
    """Write the hand-over days, the starter with its run-in, and losses by supplier."""
    page = Page(workbook, "Quantities", (30, 11, 17, 9, 10, 11, 10, 11, 11, 11, 10))
    page.title("Quantities by hand-over day")
    page.note(
        "Bins keep, so their numbers add up from day to day and count those in store and on "
        "order apart; worms do not, so each day has its own. Chances count every combination "
        "of households that come or stay away and of bins that prove usable or not."
    )
    rows = [_event_row(row, wording) for row in event_table(plan, lines).iter_rows(named=True)]
    page.table(EVENT_HEADINGS, rows, stays_in_sight=True)
    _starter(page, plan, program, wording)
    _bedding(page, plan, program, wording)
    _losses(page, plan, wording)
    page.finish(f"{program.council.name}: quantities", landscape=True)


def _event_row(row: dict[str, Any], wording: Wording) -> list[Cell]:
    kilos = '#,##0.0" kg"'
    return [
        row["place"] or "–",
        row["event_id"],
        day_cell(row["event_date"], wording),
        Number(float(row["booked_count"])),
        Number(row["expected_count"], "#,##0"),
        Number(float(row["bins_bought_count"])),
        level_cell(row["bins_level"], wording),
        Number(float(row["show_ups_count"])),
        Number(row["worms_alive_kg"], kilos),
        Number(row["worms_sent_kg"], kilos),
        level_cell(row["worms_level"], wording),
    ]


def _starter(page: Page, plan: OrderPlan, program: Program, wording: Wording) -> None:
    page.section("Starter worms")
    rule = (
        "as program.toml says"
        if plan.settings.starter_rule == "mass"
        else "from people, scraps and the share the stock can take at first"
    )
    page.note(
        f"{wording.number(plan.starter_kg * 1000.0)} g a bin, {rule}. By mass, not by number: "
        "the same kilogram holds 2,000 grown worms or 4,000 of mixed size."
    )
    share = number_format("share", 0, wording)
    names = {model.model_id: model.model_name for model in program.bin_models}
    rows: list[list[Cell]] = []
    for model, run_in in plan.run_in.items():
        taken = dict(zip(run_in.months, run_in.taken_share, strict=True))
        rows.append([names[model], "", "", *(Number(float(taken[m]), share) for m in SHOWN_MONTHS)])
    months = [f"month {month}" for month in SHOWN_MONTHS]
    page.table(("Share of its scraps that a bin takes", "", "", *months), rows)


def _bedding(page: Page, plan: OrderPlan, program: Program, wording: Wording) -> None:
    bedding = plan.bedding
    if not bedding.bought_kg and not bedding.free_kg:
        return
    page.section("Bedding for a bin")
    kilos = '#,##0.00" kg"'
    parts = [("bought", bedding.bought_kg), ("free", bedding.free_kg)]
    rows: list[list[Cell]] = [
        [material.replace("_", " "), how, "", Number(mass, kilos)]
        for how, masses in parts
        for material, mass in masses.items()
    ]
    page.table(("Material, as bought", "", "", "A bin"), rows)
    if bedding.watered is None:
        return
    names = {model.model_id: model.model_name for model in program.bin_models}
    fills = listing(
        f"{names[model]} {wording.number(litres)} L"
        for model, litres in bedding.litres_by_model.items()
    )
    page.note(
        f"The cheapest mix of what is free and what is offered that fills the first tray: {fills}. "
        f"Add {wording.number(bedding.water_litres, 1)} L of water a bin, to "
        f"{wording.share(bedding.watered.moisture_share)} moisture. Carbon to nitrogen "
        f"{wording.number(bedding.watered.carbon_to_nitrogen_ratio)} to 1, as a guide."
    )


def _losses(page: Page, plan: OrderPlan, wording: Wording) -> None:
    live = sorted({one.supplier_id for one in plan.problem.offers if one.is_live})
    page.section("Worms dead on arrival, by supplier")
    share = number_format("share", 1, wording)
    rows: list[list[Cell]] = [
        [
            plan.problem.suppliers[code].supplier_name, "", "",
            Number(plan.laws[code].mean_share, share),
            Number(float(plan.laws[code].deliveries_count)),
            Number(plan.laws[code].received_kg, '#,##0" kg"'),
        ]
        for code in live
    ]  # fmt: skip
    page.table(("Supplier", "", "", "Expected", "Deliveries", "Received"), rows)
    page.note(
        f"Before there are deliveries the allowance is "
        f"{wording.share(plan.settings.transit_loss_share, 1)} in three days on the way "
        "(growers claim less; no independent study was found). Each kilogram bag that came "
        "moves it, bags of one delivery less than single ones."
    )
