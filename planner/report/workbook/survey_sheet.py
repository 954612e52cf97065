"""Sheet of the survey: response, benchmark, calibration, prior routes, retention."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import Number
from planner.messages import paper
from planner.report.wording import labelled
from planner.report.workbook.formats import column_places, figure_cells

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

SPREAD = ("book.value", "book.from", "book.to")
MOST_ROWS_OF_A_PAGE = 85
"""Up to here one page is readable; with more rows several are printed."""


def add_survey(book: Book, register: FigureRegister, wording: Wording) -> None:
    """Write the sheet of what the survey found, on which the intervals rest."""
    page = book.add(paper().say("sheet.survey"), (52, 13, 13, 13, 13))
    page.title(paper().say("book.survey.title", year=register.reporting_year))
    page.note("book.survey.note")
    _add_parts(page, "book.survey.answers", "book.round", register, "response_share", wording)
    for title, heading, figure_id in (
        (
            "book.survey.who",
            "book.survey.round_known",
            "response_odds_ratio",
        ),
        ("book.survey.weight", "book.round", "largest_weight_over_mean"),
        (
            "book.survey.as_if",
            "book.figure",
            "without_response_history",
        ),
        ("book.survey.likelier", "book.survey.figure_odds", "if_users_odds"),
    ):
        _add_parts(page, title, heading, register, figure_id, wording)
    _add_parts(
        page,
        "book.survey.feed",
        "book.round",
        register,
        "surveyed_to_modelled_feed",
        wording,
    )
    _add_calibration(page, register, wording)
    _add_parts(page, "book.survey.routes", "book.route", register, "prior_route_share", wording)
    _add_retention(page, register, wording)
    fits = page.row <= MOST_ROWS_OF_A_PAGE
    page.finish(book.footer, is_one_page=fits)


def _add_parts(
    page: Page,
    title: str,
    heading: str,
    register: FigureRegister,
    figure_id: str,
    wording: Wording,
) -> None:
    parts = register.parts(figure_id)
    if parts:
        page.section(title)
        places = column_places(parts.values())
        rows: list[list[Cell]] = [
            [
                name if heading == "book.round" else figure.label,
                *figure_cells(figure, wording, places),
            ]
            for name, figure in parts.items()
        ]
        page.table((heading, *SPREAD), rows)


def _add_calibration(page: Page, register: FigureRegister, wording: Wording) -> None:
    figures: list[Figure] = [
        register[name]
        for name in ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
        if name in register
    ]
    if figures:
        page.section("book.survey.calibration")
        page.table(
            ("book.quantity", *SPREAD, "book.unit"),
            [[f.label, *figure_cells(f, wording), wording.unit(f)] for f in figures],
        )
        for figure in figures:
            page.note(labelled(figure.label, figure.method))


def _add_retention(page: Page, register: FigureRegister, wording: Wording) -> None:
    observed = register.parts("retention_observed")
    if observed:
        page.section("book.survey.in_use_asked")
        page.table(
            ("book.survey.months_after", *SPREAD),
            [
                [_between(*band.split("-")), *figure_cells(f, wording)]
                for band, f in observed.items()
            ],
        )
    by_age = register.parts("retention_by_age")
    ages = sorted(int(age) for age in by_age)
    page.section("book.survey.in_use")
    page.note(register["retention_12_months"].method)
    places = column_places(by_age.values())
    page.table(
        ("book.survey.months_after", *SPREAD),
        [[Number(float(age)), *figure_cells(by_age[str(age)], wording, places)] for age in ages],
    )


def _between(first: str, last: str) -> str:
    return paper().say("number.from_to", low=first, high=last)
