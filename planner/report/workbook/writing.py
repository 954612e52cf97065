"""Every sheet of the year-end workbook, in order."""

from __future__ import annotations

from pathlib import Path

from planner.cells import Cell
from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.program import Program, ReportingYear
from planner.report.document import Document
from planner.report.document.contents import Contents
from planner.report.targets import against_budget, verdict_words
from planner.report.wording import Wording, labelled
from planner.report.workbook.formats import printed_cells
from planner.report.workbook.model import add_model
from planner.report.workbook.page import Book, Page
from planner.report.workbook.quality import add_factors, add_figures, add_quality
from planner.report.workbook.section_sheets import (
    RESULTS,
    add_areas,
    add_months,
    add_sections,
    add_survey,
)
from planner.units import ONE_DAY

HEADLINES = (
    "bins_given",
    "households_served",
    "bins_in_use",
    "retention_12_months",
    "feed_kg_per_bin_week",
    "fed_t",
    "landfill_share",
    "composted_anyway_share",
    "thrown_away_share",
    "kept_out_of_landfill_t",
    "kept_out_of_landfill_to_date_t",
    "moved_from_other_routes_t",
    "emissions_avoided_in_year_t_co2e",
    "emissions_avoided_100_years_t_co2e",
    "program_cost",
    "avoided_disposal_cost",
    "cost_per_t_kept_out",
    "cost_per_t_co2e",
)
"""In the order of the page; each has a line that says what it means."""

LATEST_ROUNDS = 4
"""Earlier ones stand on the sheet of how sure the figures are."""

IN_YEAR = "emissions_avoided_in_year_t_co2e"

CAUTIONS = ("estimates", "biogenic", "bases", "no_offset")


PICTURE = "kept_out_by_month"


def add_year_page(book: Book, contents: Contents, state: str) -> str:
    """Write the year on one page and give the words of its picture, if it is drawn.

    `state` says whether this is a draft or an issue.
    """
    register, program, wording = contents.register, contents.program, contents.saying.wording
    chart = next((one for one in contents.charts if one.name == PICTURE), None)
    page = book.page("sheet.year", (42, 11, 9, 9, 11, 44), is_one_page=True)
    page.title(said("book.year.title", council=register.council, year=register.reporting_year))
    page.lead(state)
    start, end = program.months(register.reporting_year)
    runs = said("book.year.runs", start=wording.day(start), end=wording.day(end - ONE_DAY))
    running = [said("report.of_running", day=contents.through)] if contents.is_running else []
    page.note(" ".join((runs, *running, said("book.year.note"))))
    if not contents.has_tonnes:
        page.note("brief.counted_missing")
    if chart is not None:
        page.lead(f"{chart.title}.")
    page.row += 1
    page.table(
        ("book.year.figures", "book.result", "book.from", "book.to", "book.unit", "book.meaning"),
        [_headline(register[i], wording) for i in HEADLINES if i in register],
    )
    _add_targets(page, register, program, wording)
    page.row += 1
    if chart is not None:
        page.picture(chart.png, 880, rows=36)
        page.note(chart.caption)
    page.section("book.year.sure")
    for line in _sureness_lines(register, wording):
        page.note(line)
    page.section("book.year.care")
    for name in CAUTIONS:
        page.note(f"book.care.{name}")
    return "" if chart is None else f"{chart.title}. {chart.alt_text}"


def _headline(figure: Figure, wording: Wording) -> list[Cell]:
    is_below = figure.id == IN_YEAR and figure.value is not None and figure.value < 0.0
    meaning = said("book.below_zero" if is_below else f"book.meaning.{figure.id}")
    return [figure.label, *printed_cells(figure, wording), wording.unit(figure), meaning]


def _add_targets(page: Page, register: FigureRegister, program: Program, wording: Wording) -> None:
    rows = _target_rows(register, program.year(register.reporting_year), wording)
    page.row += 1
    if not rows:
        page.note("book.year.no_targets")
        return
    page.table(
        ("report.targets.caption", "book.target", "book.result", "", "", "book.judgement"),
        [[what, target, result, None, None, judged] for what, target, result, judged in rows],
    )
    for row in range(page.row - len(rows) - 1, page.row):
        page.single_line(row, first=3, last=5)


def _target_rows(
    register: FigureRegister, year: ReportingYear, wording: Wording
) -> list[tuple[str, str, str, str]]:
    rows = []
    for figure_id, target in (
        ("bins_given", year.bins_given_target),
        ("kept_out_of_landfill_t", year.kept_out_of_landfill_t_target),
    ):
        if target is None or figure_id not in register:
            continue
        figure = register[figure_id]
        places = 0 if float(target).is_integer() else 1
        wanted = f"{wording.number(target, places)} {wording.unit(figure)}"
        found = verdict_words(register, figure_id, target, wording)
        rows.append((figure.label, wanted, wording.figure(figure), found))
    cost = register["program_cost"]
    if year.budget is not None:
        spent = said("report.targets.no_ledger")
        if cost.value is not None:
            spent = against_budget(cost.value, year.budget)
        rows.append((cost.label, wording.money(year.budget), wording.figure(cost), spent))
    return rows


def _sureness_lines(register: FigureRegister, wording: Wording) -> list[str]:
    """Say in a few lines what the intervals rest on."""
    lines = []
    response = register.parts("response_share")
    if response:
        latest = list(response.items())[-LATEST_ROUNDS:]
        rounds = "; ".join(f"{wave} {wording.amount(f)}" for wave, f in latest)
        lines.append(said("book.sure.response", rounds=rounds))
    levels = register.parts("surveyed_to_modelled_feed")
    if levels:
        wave, level = list(levels.items())[-1]
        lines.append(said("book.sure.feed", wave=wave, level=wording.figure(level)))
    weighed = [
        labelled(register[name].label.lower(), wording.figure(register[name]))
        for name in ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
        if name in register
    ]
    if weighed:
        lines.append(said("book.sure.weighed", weighed="; ".join(weighed)))
    return lines


def write_workbook(path: Path, contents: Contents, document: Document) -> None:
    """Write the year-end workbook; the same content gives the same bytes.

    Cells hold the full value of a figure, the number format rounds it; the newest load dates it.
    """
    register, program, wording = contents.register, contents.program, contents.saying.wording
    year, quality = register.reporting_year, contents.quality
    footer = f"{register.council}, {year}"
    book = Book(said("book.year.book", year=year), register.council, wording, footer)
    picture_words = add_year_page(book, contents, document.subtitle)
    add_areas(book, register, contents.area_names)
    add_months(book, register)
    add_sections(book, document, RESULTS, register)
    add_survey(book, register)
    add_model(book, register, program, contents.factor_table)
    add_quality(book, register, program, quality)
    add_sections(book, document, ("records", "method"), register)
    add_factors(book, register, contents.factor_table)
    add_figures(book, register)
    path.write_bytes(book.contents(quality.newest, picture_words))
