"""Sheet of assumptions: the named cells on which the live sheets of the model rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.cells import Formula, Number
from planner.messages import paper

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from planner.cells import Cell
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

NAME = "plan.sheet.assumptions"
HEADINGS = (
    "model.assumed.assumption",
    "book.value",
    "book.unit",
    "model.assumed.origin",
    "model.assumed.cell",
)
LIVE = {name: f"sheet.model.{name}" for name in ("months", "landfill", "account", "money")}
WIDTHS = (46, 14, 24, 60, 34)
PLAIN = "General"


@dataclass(frozen=True)
class Assumption:
    """A number that the reader may change to see what follows.

    Parameters
    ----------
    name
        Name of its cell: letters, digits and low lines.
    label
        What it is, in words.
    value, unit
        Its central value.
    source
        Publication and place, or the key of the program file.
    number_format
        How it is displayed.
    formula
        How it follows from others, where it does.
    """

    name: str
    label: str
    value: float
    unit: str
    source: str
    number_format: str = PLAIN
    formula: str = ""

    @property
    def cell(self) -> Cell:
        """What stands in its cell."""
        if self.formula:
            return Formula(self.formula, self.value, self.number_format)
        return Number(self.value, self.number_format)


def add_assumptions(
    book: Book, groups: Iterable[tuple[str, Iterable[Assumption]]]
) -> dict[str, float]:
    """Write the assumptions by subject, name their cells, and give their values by name.

    Parameters
    ----------
    book
        Takes the sheet and the names.
    groups
        Subject and assumptions of each group.
    """
    values: dict[str, float] = {}
    with book.page(NAME, WIDTHS, landscape=True) as page:
        page.title("model.assumed.title")
        names = {name: paper().say(key) for name, key in LIVE.items()}
        page.note(paper().say("model.assumed.note", **names))
        for subject, assumptions in groups:
            page.section(subject)
            values |= write_assumptions(book, page, list(assumptions))
    return values


def write_assumptions(
    book: Book, page: Page, rows: Sequence[Assumption], *, stays_in_sight: bool = False
) -> dict[str, float]:
    """Write one table of assumptions and name the cells of their values."""
    page.table(
        HEADINGS,
        [[a.label, a.cell, paper().unit_words(a.unit), a.source, a.name] for a in rows],
        stays_in_sight=stays_in_sight,
    )
    for row, assumption in enumerate(rows, start=page.row - len(rows)):
        book.name_cell(assumption.name, page.sheet.title, row)
    return {assumption.name: assumption.value for assumption in rows}
