"""Live sheet of cohorts: weeks of bins in use in each month, from the bins given and the curve."""

from __future__ import annotations

import calendar
from collections.abc import Sequence

import numpy as np
from openpyxl.utils import get_column_letter

from planner.arrays import Numbers
from planner.cells import MONTH_FORMAT, Cell, Day, Formula, Number
from planner.diversion.cohorts import FIRST_MONTH_AGE, FIRST_MONTH_EXPOSURE
from planner.figures import FigureRegister
from planner.messages import said
from planner.report.wording import first_day
from planner.report.workbook.page import Book
from planner.units import DAYS_PER_WEEK

NAME = "sheet.model.cohorts"
BINS_GIVEN, WEEKS, BY_AGE = (
    "bins_given_in_month",
    "in_use_bin_weeks_in_month",
    "retention_by_age",
)
HEADINGS = (
    "model.month",
    "book.months.given",
    "model.cohorts.weeks",
    "model.cohorts.bin_months",
    "model.cohorts.mix",
    "model.bin_weeks",
)
FIRST_AGE = len(HEADINGS) + 1
"""Column of the bins that are given in the month itself; each further column is a month older."""

PER_CENT = "0.0%"


def add_model_cohorts(book: Book, register: FigureRegister) -> dict[str, str]:
    """Write the sheet and give the address of the weeks of each month, if bins were given."""
    months = list(register.parts(BINS_GIVEN))
    bins = np.array([register.number(f"{BINS_GIVEN}[{month}]") for month in months])
    curve = shares_in_use(
        [figure.value or 0.0 for figure in register.parts(BY_AGE).values()], len(months)
    )
    weeks: dict[str, str] = {}
    # the columns of ages are to be looked at on the screen; paper takes what they add up to
    page = book.page(NAME, (26, 13, 13, 14, 12, 14))
    for age in range(len(months)):
        page.sheet.column_dimensions[_letter(age)].width = 8
    page.title("model.cohorts.title")
    page.note("model.cohorts.note")
    page.row += 1
    shares_row = page.row + 1
    first = shares_row + 1
    rows: list[list[Cell]] = [_curve_row(curve, shares_row)]
    exposed = np.r_[curve[:1] * FIRST_MONTH_EXPOSURE, curve[1:]]
    for place, month in enumerate(months):
        rows.append(_month_row(register, month, place, first, shares_row, bins, exposed))
        if isinstance(rows[-1][5], Formula):
            weeks[month] = f"'{page.sheet.title}'!$F${first + place}"
    ages = [said("model.cohorts.months_old", age) for age in range(1, len(months))]
    page.table((*HEADINGS, "model.cohorts.given_in_it", *ages), rows, stays_in_sight=True)
    return weeks


def shares_in_use(by_age: Sequence[float], count: int) -> Numbers:
    """Share in use at the mean age of each month of a bin's life, shape (count,).

    Within the month of the hand-over that age is a third of a month; it and ages beyond those
    known lie on the Weibull curve through the two nearest.
    """
    known = np.array(by_age[:count], dtype=float)
    shares = np.ones(count)
    shares[: known.size] = known
    if known.size > 2:
        shares[0] = _on_curve(known[1], known[2], 1.0, 2.0, FIRST_MONTH_AGE)
        last = known.size - 1
        for age in range(known.size, count):
            shares[age] = _on_curve(known[last - 1], known[last], last - 1.0, float(last), age)
    return shares


def _on_curve(early: float, late: float, early_age: float, late_age: float, age: float) -> float:
    """Share at an age on the Weibull curve through two others."""
    if not 0.0 < late <= early < 1.0:
        return late
    first, second = np.log(-np.log(early)), np.log(-np.log(late))
    slope = (second - first) / np.log(late_age / early_age)
    return float(np.exp(-np.exp(first + slope * np.log(age / early_age))))


def _curve_row(curve: Numbers, row: int) -> list[Cell]:
    """Write the share in use at each age; that of the first month follows from the next two."""
    shares: list[Cell] = [Number(float(share), PER_CENT) for share in curve]
    if curve.size > 2 and 0.0 < curve[2] <= curve[1] < 1.0:
        early, late = (f"{get_column_letter(FIRST_AGE + age)}{row}" for age in (1, 2))
        z = f"LN(-LN({early}))+(LN(-LN({late}))-LN(-LN({early})))/LN(2)*LN({FIRST_MONTH_AGE!r})"
        shares[0] = Formula(f"EXP(-EXP({z}))", float(curve[0]), PER_CENT)
    return [said("model.cohorts.share"), *[None] * (len(HEADINGS) - 1), *shares]


def _month_row(
    register: FigureRegister,
    month: str,
    place: int,
    first: int,
    shares_row: int,
    bins: Numbers,
    exposed: Numbers,
) -> list[Cell]:
    row, there = first + place, exposed[: place + 1] * bins[place::-1]
    given, found = register[f"{BINS_GIVEN}[{month}]"], register[f"{WEEKS}[{month}]"].value
    day, not_shown = first_day(month), said("number.not_shown")
    days = calendar.monthrange(day.year, day.month)[1]
    in_use, weeks = float(there.sum()), days / DAYS_PER_WEEK
    cells: list[Cell] = [
        Day(day, MONTH_FORMAT),
        Number(given.value, "#,##0", not_shown),
        Formula(f"{days}/7", weeks, "0.00"),
        Formula(f"SUM({_letter(0)}{row}:{_letter(place)}{row})", in_use, "#,##0.0"),
    ]
    if found is None:
        cells += [not_shown, not_shown]
    elif in_use > 0.0:
        mix = found / (in_use * weeks)
        cells += [Number(mix, "0.0000"), Formula(f"D{row}*C{row}*E{row}", found, "#,##0.0")]
    else:
        cells += [None, Number(found, "#,##0.0")]
    for age in range(place + 1):
        # a month that is not shown holds words, which N takes for nothing
        text = f"N($B{row - age})*{_letter(age)}${shares_row}"
        text += f"*{FIRST_MONTH_EXPOSURE!r}" if age == 0 else ""
        cells.append(Formula(text, float(there[age]), "#,##0.0"))
    return [*cells, *[None] * (bins.size - place - 1)]


def _letter(age: int) -> str:
    return str(get_column_letter(FIRST_AGE + age))
