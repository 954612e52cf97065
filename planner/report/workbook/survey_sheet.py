"""Sheet of the survey: response, benchmark, calibration, prior routes, retention."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import Number
from planner.report.workbook.formats import column_places, figure_cells

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

SPREAD = ("value", "from", "to")
MOST_ROWS_OF_A_PAGE = 85
"""Up to here one page is readable; with more rows several are printed."""


def add_survey(book: Book, register: FigureRegister, wording: Wording) -> None:
    """Write the sheet of what the survey found, on which the intervals rest."""
    page = book.add("Survey", (52, 13, 13, 13, 13))
    page.title(f"What the survey found, to the end of {register.reporting_year}")
    page.note(
        "From and to are the limits of the 95% interval: survey error by replicate weights "
        "together with the range of each published factor. An error that all households share, "
        "such as flattering their own bin, is not in it."
    )
    _add_parts(page, "Answers to the survey rounds", "round", register, "response_share", wording)
    for title, heading, figure_id in (
        (
            "Who answers: odds over those of the average category, all else equal",
            "round, what was known before",
            "response_odds_ratio",
        ),
        ("Largest weight over the mean weight", "round", "largest_weight_over_mean"),
        (
            "As if who answers depended on area and dwelling alone",
            "figure",
            "without_response_history",
        ),
        ("If users answer likelier than others like them", "figure, odds", "if_users_odds"),
    ):
        _add_parts(page, title, heading, register, figure_id, wording)
    _add_parts(
        page,
        "Feed as surveyed over feed as modelled; 1 is full agreement",
        "round",
        register,
        "surveyed_to_modelled_feed",
        wording,
    )
    _add_calibration(page, register, wording)
    _add_parts(
        page, "Where the scraps went before", "route", register, "prior_route_share", wording
    )
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
            [name.replace("_", " "), *figure_cells(figure, wording, places)]
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
        page.section("What households report against what is weighed")
        page.table(
            ("quantity", *SPREAD, "unit"),
            [[f.label, *figure_cells(f, wording), wording.unit(f)] for f in figures],
        )
        for figure in figures:
            page.note(f"{figure.label}: {figure.method}")


def _add_retention(page: Page, register: FigureRegister, wording: Wording) -> None:
    observed = register.parts("retention_observed")
    if observed:
        page.section("Share in use of the bins asked about, by age")
        page.table(
            ("months after the hand-over", *SPREAD),
            [
                [band.replace("-", " to "), *figure_cells(f, wording)]
                for band, f in observed.items()
            ],
        )
    by_age = register.parts("retention_by_age")
    ages = sorted(int(age) for age in by_age)
    page.section("Share of bins in use by age")
    page.note(register["retention_12_months"].method)
    places = column_places(by_age.values())
    page.table(
        ("months after the hand-over", *SPREAD),
        [[Number(float(age)), *figure_cells(by_age[str(age)], wording, places)] for age in ages],
    )
