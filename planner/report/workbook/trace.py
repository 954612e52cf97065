"""Sheets of the published factors and of every figure, by which a number is traced."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import Number
from planner.messages import paper, said
from planner.report.wording import labelled, listing
from planner.report.workbook.formats import figure_cells

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.factors import Factor, FactorTable
    from planner.figures import Figure, FigureRegister, Input
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book

SPREAD = ("book.value", "book.low", "book.high", "book.unit")
FACTOR_WIDTHS = (34, 9, 9, 9, 18, 12, 54, 22, 34)
FIGURE_WIDTHS = (36, 40, 10, 10, 10, 11, 46, 44)
PLAIN = "General"
MOST_USES = 3


def add_factors(book: Book, register: FigureRegister, factor_table: FactorTable) -> None:
    """Write the published factors that the figures rest on, then the program's settings."""
    page = book.page("sheet.factors", FACTOR_WIDTHS, landscape=True)
    page.title(said("book.factors.title", year=register.reporting_year))
    page.note("book.factors.note")
    page.row += 1
    by_name = {factor.name: factor for factor in factor_table}
    of_source = ("book.evidence", "book.source", "book.factors.where", "book.factors.used_in")
    rows = [
        _factor_cells(name, detail, used_in, by_name.get(name), factor_table)
        for name, (detail, used_in) in register.uses("factor").items()
    ]
    page.table(("book.factor", *SPREAD, *of_source), rows, stays_in_sight=True)
    page.section("appendix.settings.caption")
    for name, (detail, _) in register.uses("program").items():
        page.note(labelled(name, detail))


def add_figures(book: Book, register: FigureRegister) -> None:
    """Write every figure with its method and what it rests on."""
    page = book.page("sheet.figures", FIGURE_WIDTHS, landscape=True)
    page.title(said("book.figures.title", year=register.reporting_year))
    page.note("book.figures.note")
    page.print_no_further()
    page.row += 1
    headings = ("id", "book.figure", *SPREAD, "book.figures.how", "book.figures.rests_on")
    rows = [_figure_row(figure, book.wording) for figure in register]
    page.table(headings, rows, stays_in_sight=True)


def _figure_row(figure: Figure, wording: Wording) -> list[Cell]:
    rests_on = "; ".join(_input_words(item) for item in figure.inputs)
    cells, unit = figure_cells(figure, wording), paper().unit_words(figure.unit)
    return [figure.id, figure.label, *cells, unit, figure.method, rests_on]


def _input_words(item: Input) -> str:
    words = said(f"book.rests.{item.kind}", name=item.name)
    return f"{words} ({item.detail})" if item.detail and item.kind == "query" else words


def _factor_cells(
    name: str, detail: str, used_in: list[str], factor: Factor | None, table: FactorTable
) -> list[Cell]:
    used = listing(used_in, MOST_USES)
    if factor is None:
        return [name, None, None, None, None, None, detail, None, used]
    source = table.source(factor.source_id)
    memory = " " + said("appendix.factors.not_read") if factor.seen == "memory" else ""
    return [
        name,
        Number(factor.value, PLAIN),
        None if factor.low is None else Number(factor.low, PLAIN),
        None if factor.high is None else Number(factor.high, PLAIN),
        paper().unit_words(factor.unit),
        said(f"factor_list.evidence.{factor.evidence}"),
        f"{source.cited(paper())}. {paper().text(source.address)}{memory}",
        factor.place(paper()),
        used,
    ]
