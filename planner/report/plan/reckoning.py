"""Live sheets of a plan: the reckoning of every row, and its sums beside the planner's own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.cells import Cell, Formula, Number
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.figures import FigureRegister
from planner.messages import said
from planner.report.plan.live import (
    NUMBER,
    SHARE,
    TONNES,
    WEEK,
    Block,
    assumed_of,
    write_assumptions,
    write_weeks,
)
from planner.report.plan.words import columns, named
from planner.report.wording import Wording
from planner.report.workbook.formats import compared, number_format, to_cents
from planner.report.workbook.page import Book, Page
from planner.rounding import CENTS
from planner.sizing.outcome import taken_in_central_draw
from planner.tables import DWELLINGS
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.sizing.sizing import Sizing


@dataclass(frozen=True)
class _Row:
    """One row of the allocation and what it comes to in the central draw."""

    cells: list[Cell]
    model: int
    bins: float
    fed_t: float
    kept_out_t: float
    cost: float


def add_live_sheets(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write the sheets: the results first, then what they are calculated from."""
    results = book.page("plan.sheet.results", (58, 18, 20, 16))
    assumptions = book.page("plan.sheet.assumptions", (58, 14, 18, 62, 34), landscape=True)
    widths = (20, 13, 22, 14, 9, 9, 9, 10, 11, 11, 11, 11, 13)
    reckoning = book.page("plan.sheet.reckoning", widths, landscape=True)
    weeks = book.page("plan.sheet.weeks", (14, 22, 18, 12, 12, 16, 12, 14))
    assumed = assumed_of(sizing)
    values = {one.name: one.value for one in assumed}
    write_assumptions(book, assumptions, assumed)
    blocks = write_weeks(weeks, sizing)
    first, rows = _write_rows(book, reckoning, sizing, values, blocks)
    _write_results(book, results, register, first, rows, values)


def _write_rows(
    book: Book,
    page: Page,
    sizing: Sizing,
    values: dict[str, float],
    blocks: dict[Block, tuple[int, int, float]],
) -> tuple[int, list[_Row]]:
    page.title("plan.reckoning.title")
    page.note("plan.reckoning.note")
    first = page.row + 1
    bins = sizing.main.allocation.bins_by_group
    taken = taken_in_central_draw(sizing.world, bins)
    places = np.argwhere((bins > 0) | (taken > 0))
    rows = [
        _row(sizing, values, blocks, book.wording, row, (int(g), int(m), int(r)), taken)
        for row, (g, m, r) in enumerate(places, start=first)
    ]
    page.table(
        columns(
            "area dwelling model round bins share_taken left_before feed share_kept_out "
            "full_weeks fed_t kept_out_t cost"
        ),
        [row.cells for row in rows],
        stays_in_sight=True,
    )
    return first, rows


def _row(
    sizing: Sizing,
    values: dict[str, float],
    blocks: dict[Block, tuple[int, int, float]],
    wording: Wording,
    row: int,
    cell: tuple[int, int, int],
    all_taken: np.ndarray,
) -> _Row:
    group, model, place = cell
    context, world, settings = sizing.context, sizing.world, sizing.main.settings
    code = int(context.groups.dwelling[group])
    start, end, weeks = blocks[code, model, place]
    feed = float(world.feed_kg_per_week[0, group])
    elsewhere, lost = _elsewhere(sizing, group, cell, start, end, row)
    share = float(world.kept_out_share[0, group] - world.exposed_share[0, group] * lost)
    before = float(world.landfill_share[group])
    residual = before / values["landfilled_share"] if values["landfilled_share"] else 0.0
    bins, taken = float(sizing.main.allocation.bins_by_group[cell]), float(all_taken[cell])
    fed_t = taken * weeks * feed / KG_PER_T
    handing = values[f"handing_over_{model + 1}"] - values["copayment"]
    cost = bins * values[f"price_{model + 1}"] + taken * handing
    counted = f"(E{row}*F{row}+G{row})"
    money = number_format(wording.currency, 0, wording)
    cells: list[Cell] = [
        context.groups.area_names[int(context.groups.area[group])],
        said(f"plan.dwelling.{DWELLINGS[code]}"),
        settings.models[model].model_name,
        named("round", settings.rounds[place].name),
        Number(bins),
        Number(taken / bins if bins else 0.0, SHARE),
        Number(0.0 if bins else taken, NUMBER),
        Formula(f"feed_kg_per_week*{feed / values['feed_kg_per_week']!r}", feed, TONNES),
        Formula(
            f"landfilled_share*({residual!r}*(1-{ANYWAY}){elsewhere}-{THROWN_AWAY})", share, SHARE
        ),
        Formula(f"SUM('{said('plan.sheet.weeks')}'!H{start}:H{end})", weeks, WEEK),
        Formula(f"{counted}*J{row}*H{row}/1000", fed_t, TONNES),
        Formula(f"K{row}*I{row}", fed_t * share, TONNES),
        Formula(
            f"E{row}*price_{model + 1}+{counted}*(handing_over_{model + 1}-copayment)", cost, money
        ),
    ]
    return _Row(cells, model, bins, fed_t, fed_t * share, cost)


def _elsewhere(
    sizing: Sizing, group: int, cell: tuple[int, int, int], start: int, end: int, row: int
) -> tuple[str, float]:
    """Share that goes elsewhere by a scenario, over the weeks of use: as a factor, and its value.

    The factor multiplies what went to the residual bin; empty where no scenario holds.
    """
    for number, (groups, course) in enumerate(sizing.world.scenario_courses):
        if groups[group]:
            code = int(sizing.context.groups.dwelling[group])
            one = sizing.world.bins[code][cell[1]]
            weeks = one.full_feed_weeks[0, :, cell[2]]
            letter = chr(ord("I") + number)
            own = f"'{said('plan.sheet.weeks')}'!"
            product = f"SUMPRODUCT({own}H{start}:H{end},{own}{letter}{start}:{letter}{end})"
            return f"*(1-{product}/J{row})", float(weeks @ course / weeks.sum())
    return "", 0.0


def _write_results(
    book: Book,
    page: Page,
    register: FigureRegister,
    first: int,
    rows: list[_Row],
    values: dict[str, float],
) -> None:
    page.title("plan.results.title")
    sheets = {name: said(f"plan.sheet.{name}") for name in ("assumptions", "reckoning")}
    page.note(said("plan.results.note", **sheets))
    wording, top = book.wording, page.row + 1
    last = first + max(1, len(rows)) - 1
    own = f"'{sheets['reckoning']}'!"
    table: list[list[Cell]] = []
    for place, (label, figure_id, text, value) in enumerate(
        _sums(own, first, last, top, rows, values)
    ):
        figure = register[figure_id]
        row = top + place
        reported = to_cents(figure.value or 0.0, figure.unit, wording)
        if wording.is_money(figure):
            text, value = f"ROUND({text},2)", round(value, CENTS)
        code = number_format(figure.unit, 2 if figure.unit.startswith("t") else 0, wording)
        unit = wording.unit(figure)
        table.append(
            [
                f"{label}{f', {unit}' if unit else ''}",
                *compared(text, value, reported, code, "B", row),
            ]
        )
    page.table(columns("result reckoned own difference"), table)


def _sums(
    own: str, first: int, last: int, top: int, rows: list[_Row], values: dict[str, float]
) -> list[tuple[str, str, str, float]]:

    def column(letter: str) -> str:
        return f"SUM({own}{letter}{first}:{letter}{last})"

    kept, fed = (sum(getattr(row, name) for row in rows) for name in ("kept_out_t", "fed_t"))
    cost = values["fixed_cost"] + sum(row.cost for row in rows)
    making = sum(row.bins * values[f"making_{row.model + 1}"] for row in rows)
    net = (
        kept * values["methane_avoided_kg_per_t"] - fed * values["bin_gases_kg_per_t"] - making
    ) / KG_PER_T
    made = "+".join(_made(own, first, rows, model) for model in sorted({r.model for r in rows}))
    return [
        (said("plan.sum.bins"), "plan_bins", column("E"), sum(row.bins for row in rows)),
        (said("plan.sum.fed"), "plan_fed_t", column("K"), fed),
        (said("plan.sum.kept_out"), "plan_kept_out_t", column("L"), kept),
        (said("plan.sum.cost"), "plan_cost", f"fixed_cost+{column('M')}", cost),
        (
            said("plan.sum.cost_per_t"),
            "plan_cost_per_t",
            f"IF(B{top + 2}>0,B{top + 3}/B{top + 2},0)",
            cost / kept if kept else 0.0,
        ),
        (
            said("plan.sum.saved"),
            "plan_avoided_disposal_cost",
            f"B{top + 2}*disposal_price_per_t",
            kept * values["disposal_price_per_t"],
        ),
        (
            said("plan.sum.avoided"),
            "plan_net_t_co2e",
            f"(B{top + 2}*methane_avoided_kg_per_t-B{top + 1}*bin_gases_kg_per_t"
            f"-({made or 0}))/1000",
            net,
        ),
    ]


def _made(own: str, first: int, rows: list[_Row], model: int) -> str:
    """Write the making of one model's bins as a formula over its rows, which stand apart."""
    places = [first + n for n, row in enumerate(rows) if row.model == model]
    runs: list[list[int]] = []
    for place in places:
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    summed = ",".join(f"{own}E{run[0]}:E{run[-1]}" for run in runs)
    return f"SUM({summed})*making_{model + 1}"
