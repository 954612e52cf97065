"""The sizing workbook: the decision first, then what it rests on."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from openpyxl.drawing.image import Image

from planner.cells import Formula
from planner.messages import said
from planner.report.plan.pages import (
    add_beliefs_page,
    add_frontier_page,
    add_one_bin_page,
    add_scenarios_page,
    add_sureness_page,
)
from planner.report.plan.reckoning import add_live_sheets
from planner.report.plan.words import columns, decision_lines
from planner.report.wording import Wording
from planner.report.workbook.book import Book
from planner.report.workbook.formats import (
    figure_cells,
    money_cell,
    number_format,
    printed_cells,
)
from planner.report.workbook.trace import add_figures

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from planner.cells import Cell
    from planner.figures import FigureRegister
    from planner.report.charts.drawing import Drawing
    from planner.report.workbook.page import Page
    from planner.sizing.sizing import Sizing

PICTURE_WIDTH_PIXELS = 640
PIXELS_PER_ROW = 17.5
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
    image = Image(io.BytesIO(picture))
    image.height = int(image.height * PICTURE_WIDTH_PIXELS / image.width)
    image.width = PICTURE_WIDTH_PIXELS
    page.picture(image, int(image.height / PIXELS_PER_ROW) + 1)
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
