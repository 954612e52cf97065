"""Pages of the sizing workbook on one bin, the frontier, sureness, scenarios and beliefs."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from planner.cells import Cell, Formula, Number
from planner.figures import Figure, FigureRegister
from planner.messages import paper, said
from planner.report.charts.drawing import Drawing
from planner.report.plan.figures import PERCENTILES
from planner.report.plan.reckoning import add_live_sheets
from planner.report.plan.words import columns, decision_lines, named, plan_years, unit_words
from planner.report.wording import Wording
from planner.report.workbook.formats import (
    columns_of_figures,
    figure_cells,
    money_cell,
    number_format,
    printed_cells,
    to_cents,
)
from planner.report.workbook.page import Book, Page
from planner.report.workbook.quality import add_figures
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from planner.sizing.sizing import Sizing


RESULTS = ("plan_bins_given", "plan_kept_out_t", "plan_net_t_co2e", "plan_cost", "plan_cost_per_t")


def add_frontier_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write the frontier, the limits that bind, and what the next tonne costs."""
    wording = book.wording
    page = book.page("plan.sheet.money", (62, 22, 16, 30), landscape=True)
    page.title("plan.money.title")
    page.note("plan.money.note")
    figures = [
        list(register.parts(f"plan_frontier_{name}").values())
        for name in ("cost", "bins", "kept_out_t", "marginal_cost_per_t")
    ]
    rows = [[_cell(figure, wording) for figure in row] for row in zip(*figures, strict=True)]
    page.table(columns("plan_cost bins kept_out_t further_tonne"), rows)
    dearer = register["plan_next_tonne_cost"]
    page.note(said("plan.told", label=dearer.label, amount=wording.amount(dearer)))
    _add_limits(page, sizing, wording)


def _add_limits(page: Page, sizing: Sizing, wording: Wording) -> None:
    page.section("plan.limits.title")
    if not sizing.binding:
        page.note("plan.limits.none")
        return
    rows: list[list[Cell]] = []
    for one in sizing.binding:
        worth = (Number(one.tonnes, "#,##0.000"), money_cell(one.cost, wording))
        rows.append([one.limit.words, one.limit.unit, *worth])
    page.table(columns("limit one_more tonnes cost"), rows)
    page.note("plan.limits.note")


def add_sureness_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write percentiles, years, drivers and the rule of thumb."""
    wording = book.wording
    page = book.page("plan.sheet.sure", (54, 14, 14, 14, 14, 14, 14), landscape=True)
    page.title("plan.sure.title")
    page.note(said("plan.sure.note", draws=wording.number(sizing.program.sizing.draws_count)))
    rows: list[list[Cell]] = []
    for name in RESULTS:
        figure = register[name]
        if figure.value is None:
            continue
        parts = [_cell(register[f"{name}[p{p}]"], wording, figure) for p in PERCENTILES]
        _, low, high = figure_cells(figure, wording)
        rows.append([figure.label, low, *parts, high])
    shares = (wording.share(0.025, 1), *(wording.share(p / 100.0) for p in PERCENTILES))
    page.table((*columns("result"), *shares, wording.share(0.975, 1)), rows)
    _add_years(page, register, sizing, wording)
    _add_drivers(page, register, sizing, wording)
    page.section("plan.sure.rule")
    rows = [[step.words, Number(step.tonnes, "#,##0.0")] for step in sizing.steps]
    page.table(columns("step t_in_a_year"), rows)
    page.note("plan.sure.rule_note")


def _add_years(page: Page, register: FigureRegister, sizing: Sizing, wording: Wording) -> None:
    page.section("plan.sure.years")
    figures = [
        [register[f"{name}[{year}]"] for year in plan_years(sizing)]
        for name in ("plan_kept_out_t_in_year", "plan_new_kept_out_t_in_year")
    ]
    cells = columns_of_figures([[*column, column[-1]] for column in figures], wording)[:-1]
    rows = [[year, *row] for year, row in zip(plan_years(sizing), cells, strict=True)]
    page.table(columns("year all_bins_t low high plans_t low high"), rows)


def _add_drivers(page: Page, register: FigureRegister, sizing: Sizing, wording: Wording) -> None:
    page.section("plan.sure.drivers")
    names = ["variance_share_of_kept_out_t", "total_variance_share_of_kept_out_t"]
    names += ["variance_share_of_net_t_co2e", "variance_share_of_cost_per_t"]
    rows: list[list[Cell]] = []
    for label in sizing.drivers.drivers:
        part = label.lower().replace(" ", "_")
        shares = (register[f"plan_{name}[{part}]"] for name in names)
        cells = (figure_cells(share, wording, 0)[0] for share in shares)
        rows.append([named("driver", label), *cells])
    page.table(columns("input tonnes_alone with_others emissions_alone cost_per_tonne"), rows)
    page.note("plan.sure.drivers_note")


def add_scenarios_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write scenarios side by side, and each difference with its interval."""
    wording = book.wording
    page = book.page("plan.sheet.scenarios", (30, 10, 14, 14, 14, 14, 14, 14), landscape=True)
    page.title("plan.scenarios.title")
    shown = [one.name for one in sizing.scenarios if one.plan is not None]
    names = ("bins", *_SIDE)
    rows: list[list[Cell]] = [
        [said("plan.scenarios.this"), *(_cell(register[f"plan_{n}"], wording) for n in names)]
    ]
    for name in shown:
        cells = (_cell(register[f"plan_scenario_{n}[{name}]"], wording) for n in names)
        rows.append([named("scenario", name), *cells])
    page.table(columns("plan bins kept_out_t avoided_t cost cost_per_t"), rows)
    for name in _SIDE:
        page.section(said(f"plan.scenarios.{name}"))
        gaps = ((one, register[f"plan_scenario_{name}_difference[{one}]"]) for one in shown)
        told = [[named("scenario", one), "", *figure_cells(gap, wording)] for one, gap in gaps]
        page.table(columns("plan - difference low high"), told)
    page.note("plan.scenarios.note")
    for one in sizing.scenarios:
        if one.plan is None:
            page.note(one.reason)


_SIDE = ("kept_out_t", "net_t_co2e", "cost", "cost_per_t")


def add_beliefs_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write what was learnt, and every uncertain input."""
    wording = book.wording
    page = book.page("plan.sheet.beliefs", (50, *[12] * 9, 16), landscape=True)
    page.title("plan.beliefs.title")
    if sizing.inputs.learned:
        page.section("plan.beliefs.learned")
        rows: list[list[Cell]] = []
        for one in sizing.inputs.learned:
            cells = [
                cell
                for name in ("plan_prior", "plan_measured", "plan_posterior")
                for cell in figure_cells(register[f"{name}[{one.name}]"], wording)
            ]
            worth = Number(one.effective_size, "#,##0", said("plan.beliefs.quantity"))
            rows.append([one.label, *cells, worth])
        page.table(
            columns("input before low high measured low high after low high answers"),
            rows,
        )
        weight = paper().decimal(sizing.program.sizing.last_year_weight, "0.###")
        page.note(said("plan.beliefs.note", weight=weight))
    else:
        page.note("plan.beliefs.none")
    _add_inputs(page, register, sizing, wording)


def _add_inputs(page: Page, register: FigureRegister, sizing: Sizing, wording: Wording) -> None:
    page.section("plan.beliefs.inputs")
    rows = [
        [
            belief.label,
            *figure_cells(register[f"plan_input[{belief.name}]"], wording),
            unit_words(belief.unit, wording),
            said(f"factor_list.shape.{belief.shape}"),
        ]
        for belief in sizing.inputs.beliefs
        if belief.unit != "rank"
    ]
    page.table(columns("input value low high unit shape"), rows)
    page.note("plan.beliefs.inputs_note")


def add_one_bin_page(book: Book, register: FigureRegister, sizing: Sizing) -> None:
    """Write one row for each area and dwelling."""
    wording = book.wording
    page = book.page("plan.sheet.one_bin", (26, 14, 13, 10, 10, 13, 10, 10, 13, 10, 10))
    years = sizing.main.settings.horizon_years
    page.title(said("plan.one_bin.title", years=years))
    page.note("plan.one_bin.note")
    groups = sizing.context.groups
    names = ("plan_one_bin_kept_out_kg", "plan_one_bin_net_kg_co2e", "plan_one_bin_cost")
    shown = [n for n, label in enumerate(groups.labels) if f"{names[0]}[{label}]" in register]
    if not shown:
        page.note("plan.one_bin.none")
        return
    page.landscape = True
    figures = [[register[f"{name}[{groups.labels[n]}]"] for n in shown] for name in names]
    cells = columns_of_figures([[*column, column[-1]] for column in figures], wording)[:-1]
    headings = columns("area dwelling kept_out_kg low high avoided_kg low high cost low high")
    rows: list[list[Cell]] = []
    for n, row in zip(shown, cells, strict=True):
        dwelling = said(f"plan.dwelling.{DWELLINGS[int(groups.dwelling[n])]}")
        rows.append([groups.area_names[groups.area[n]], dwelling, *row])
    page.table(headings, rows, stays_in_sight=True)


def _cell(figure: Figure, wording: Wording, like: Figure | None = None) -> Cell:
    """Value of a figure; shown with the decimals of another where given."""
    if like is None:
        return figure_cells(figure, wording)[0]
    code = figure_cells(like, wording)[0]
    shown = code.number_format if isinstance(code, Number) else "General"
    value = None if figure.value is None else to_cents(figure.value, figure.unit, wording)
    return Number(value, shown)


STEPS = (
    ("plan_avoided_disposal_cost", 1.0),
    ("plan_price_changes", 1.0),
    ("plan_cost", -1.0),
    ("plan_support_cost", -1.0),
    ("plan_discounting", -1.0),
)
"""Figures that add up to the net present value, with their sign."""

HEADLINES = (
    "plan_bins",
    "plan_bins_given",
    "plan_cost",
    "plan_kept_out_t",
    "plan_net_t_co2e",
    "plan_cost_per_t",
    "plan_avoided_disposal_cost",
    "plan_chance_of_target",
    "plan_next_tonne_cost",
)


def write_plan_workbook(
    path: Path,
    register: FigureRegister,
    sizing: Sizing,
    charts: tuple[Drawing, ...],
    written_at: dt.datetime,
) -> None:
    """Write the workbook; the same plan gives the same bytes.

    The first of the charts, which lie beside it, stands on the first page. `written_at` stands
    for the time of writing.
    """
    year = register.reporting_year
    footer = said("plan.book.footer", council=register.council, year=year)
    book = Book(
        said("plan.book.title", year=year), register.council, Wording.of(sizing.program), footer
    )
    picture = (path.parent / f"{charts[0].name}.png").read_bytes()
    _add_decision(book, register, sizing, picture)
    add_live_sheets(book, register, sizing)
    add_one_bin_page(book, register, sizing)
    add_frontier_page(book, register, sizing)
    add_sureness_page(book, register, sizing)
    add_scenarios_page(book, register, sizing)
    add_beliefs_page(book, register, sizing)
    add_figures(book, register)
    path.write_bytes(book.contents(written_at, charts[0].alt_text))


def _add_decision(book: Book, register: FigureRegister, sizing: Sizing, picture: bytes) -> None:
    wording = book.wording
    page = book.page("plan.sheet.decision", (58, 14, 13, 13, 12), is_one_page=True)
    page.title(said("plan.decision.title", year=register.reporting_year))
    first, *others = decision_lines(register, sizing, Wording.of(sizing.program))
    page.lead(first)
    for line in others:
        page.note(line)
    page.section("plan.decision.figures")
    headlines = [register[name] for name in HEADLINES if name in register]
    rows = [[one.label, *printed_cells(one, wording), wording.unit(one)] for one in headlines]
    for figure in register.parts("plan_net_present_value").values():
        rows.append([figure.label, *printed_cells(figure, wording), ""])
    page.table(columns("figure value low high unit"), rows)
    page.note(said("plan.decision.note", year=register.reporting_year))
    _add_steps(page, register, wording)
    areas = register.parts("plan_bins_by_area")
    names = dict(zip(sizing.context.groups.area_ids, sizing.context.groups.area_names, strict=True))
    page.section("plan.decision.by_area")
    given = [(names[area], figure) for area, figure in areas.items() if figure.value]
    whole = (said("plan.decision.all_areas"), register["plan_bins"])
    *by_area, total = ([name, figure_cells(one, wording)[0]] for name, one in (*given, whole))
    page.table(columns("area bins"), by_area, total)
    page.section("plan.decision.money")
    page.picture(picture, 640)
    if sizing.notes:
        page.section("plan.decision.notes")
        for note in sizing.notes:
            page.note(note)


def _add_steps(page: Page, register: FigureRegister, wording: Wording) -> None:
    """Write each step from savings at this year's prices to the net present value, as a sum."""
    rates = register.parts("plan_net_present_value")
    page.section("plan.steps")
    first, money = page.row + 1, number_format(wording.currency, 0, wording)
    rows: list[list[Cell]] = []
    for name, sign in STEPS:
        of_rates = [register.find(name) or register[f"{name}[{rate}]"] for rate in rates]
        words = of_rates[0].label if register.find(name) else said("plan.steps.years")
        if name in ("plan_cost", "plan_support_cost"):
            words = said("plan.steps.less", label=words)
        amounts = (money_cell(sign * (one.value or 0.0), wording) for one in of_rates)
        rows.append([words, *amounts])
    last = first + len(rows) - 1
    total = [
        Formula(f"SUM({column}{first}:{column}{last})", one.value or 0.0, money)
        for column, one in zip("BCDE", rates.values(), strict=False)
    ]
    at_rates = (said("plan.steps.at_rate", rate=wording.share(float(rate), 1)) for rate in rates)
    page.table((*columns("step"), *at_rates), rows, [said("plan.steps.total"), *total])
