"""Sheet of assumptions: the named cells on which the live sheets of the model rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from openpyxl.workbook.defined_name import DefinedName

from planner.report.workbook.cells import Number
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from collections.abc import Iterable

    from openpyxl import Workbook

NAME = "Assumptions"
HEADINGS = ("assumption", "value", "unit", "where it comes from", "name of its cell")
WIDTHS = (46, 14, 24, 60, 34)
PLAIN = "General"
VALUE_COLUMN = "B"


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
    """

    name: str
    label: str
    value: float
    unit: str
    source: str
    number_format: str = PLAIN


def add_assumptions(
    workbook: Workbook, footer: str, groups: Iterable[tuple[str, Iterable[Assumption]]]
) -> dict[str, float]:
    """Write the assumptions by subject, name their cells, and give their values by name.

    Parameters
    ----------
    workbook
        Takes the sheet and the names.
    footer
        What stands at the foot of each page.
    groups
        Subject and assumptions of each group.
    """
    page = Page(workbook, NAME, WIDTHS)
    page.title("Assumptions of the live sheets")
    page.note(
        "The sheets Model months, Model landfill, Model account and Model money reckon with the "
        "values in the second column. Change one and they follow; every other sheet, and each "
        "column that says as reported, keeps the planner's own figures. Central values alone: "
        "intervals come from the planner's draws."
    )
    values: dict[str, float] = {}
    for subject, assumptions in groups:
        page.section(subject)
        rows = list(assumptions)
        first = page.row + 1
        page.table(
            HEADINGS,
            [[a.label, Number(a.value, a.number_format), a.unit, a.source, a.name] for a in rows],
        )
        for place, assumption in enumerate(rows, start=first):
            target = f"'{NAME}'!${VALUE_COLUMN}${place}"
            workbook.defined_names[assumption.name] = DefinedName(assumption.name, attr_text=target)
            values[assumption.name] = assumption.value
    page.finish(footer, landscape=True)
    return values
