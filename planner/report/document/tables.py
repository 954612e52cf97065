"""Tables of figures: which stand in one, and in which order, is declared with the figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Statement
from planner.report.document.saying import table
from planner.report.figures import rows_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.report.document.contents import Contents
    from planner.report.document.model import Table

INTERVAL = "report.interval"
HEADINGS = ("report.what", "report.result", INTERVAL, "report.unit")


def figure_table(
    contents: Contents,
    key: str,
    caption: str,
    *,
    headings: Sequence[str] = HEADINGS,
    leaves_out: Sequence[str] = (),
    note: str = "",
) -> Table:
    """Make a table with a row a figure: what it is, result, interval, unit.

    Where no figure has a unit, neither has the table a column of units.

    Parameters
    ----------
    contents
        Holds the figures.
    key
        Of the table, as the figures declare it.
    caption, note
        As in `Table`.
    headings
        Of the four columns.
    leaves_out
        Figures that are declared for the table and do not stand in it this time.
    """
    saying = contents.saying
    rows = [
        (
            Statement((words or contents.register[name].label,)),
            saying.cell(name),
            saying.cell(name, "spread"),
            saying.unit(name),
        )
        for name, words in rows_of(key).items()
        if name in contents.register and name not in leaves_out
    ]
    width = len(HEADINGS) if any(row[-1].words for row in rows) else len(HEADINGS) - 1
    cut = [row[:width] for row in rows]
    return table(key, caption, headings[:width], cut, numbers=(1, 2), note=note)


def parts_table(
    contents: Contents,
    key: str,
    caption: str,
    heading: str,
    rows: Mapping[str, str],
    *,
    note: str = "",
) -> Table:
    """Make a table with a row a part, as an area or a month, and a column a figure.

    The interval is that of the last column; where there is none, neither is its column.

    Parameters
    ----------
    contents
        Holds the figures.
    key
        Of the table, as the figures declare it.
    caption, note
        As in `Table`.
    heading
        Of the parts.
    rows
        Words of each part by its name.
    """
    saying = contents.saying
    columns = {name.partition("[")[0]: words for name, words in rows_of(key).items()}
    last = list(columns)[-1]
    cells = [
        (
            Statement((words,)),
            *(saying.cell(f"{name}[{part}]") for name in columns),
            saying.cell(f"{last}[{part}]", "spread"),
        )
        for part, words in rows.items()
    ]
    width = len(columns) + 1 + any(row[-1].words for row in cells)
    headings = (heading, *columns.values(), INTERVAL)[:width]
    cut = [row[:width] for row in cells]
    return table(key, caption, headings, cut, numbers=range(1, width), note=note)
