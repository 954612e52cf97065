"""Months and totals that are too small to show, in one report and over those of all years.

Each report shows the months since the first hand-over, the bins of its year and the bins
to date. Bins to date less those of the year are the bins to date of the report before, so
the reports of all years are one table; what earlier ones showed cannot be taken back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from planner.figures import FigureRegister
from planner.program import Privacy
from planner.report.disclosure.parts import hidden_by_change, is_small, shown_parts, shown_total
from planner.report.disclosure.suppression import CountTable, suppress

MONTH, YEAR, TO_DATE = "bins_given_in_month", "bins_given", "bins_given_to_date"
HOUSEHOLDS, HOUSEHOLDS_TO_DATE = "households_served", "households_served_to_date"


@dataclass(frozen=True)
class PublishedCells:
    """What reports of other years have shown and not shown of the bins given."""

    # cells, as ``bins_given_in_month[2025-07]`` or ``bins_given[2024-25]``
    shown: frozenset[str] = field(default_factory=frozenset)
    hidden: frozenset[str] = field(default_factory=frozenset)


def published_cells(registers: Iterable[FigureRegister]) -> PublishedCells:
    """Gather what other reports have shown; a cell that any of them shows is shown."""
    cells: dict[str, bool] = {}
    for register in registers:
        of_months = {f"{MONTH}[{m}]": f for m, f in register.parts(MONTH).items()}
        of_year = {
            f"{name}[{register.reporting_year}]": register[name]
            for name in (YEAR, TO_DATE)
            if name in register
        }
        for cell, figure in (of_months | of_year).items():
            cells[cell] = cells.get(cell, False) or figure.value is not None
    return PublishedCells(
        frozenset(cell for cell, is_shown in cells.items() if is_shown),
        frozenset(cell for cell, is_shown in cells.items() if not is_shown),
    )


def time_table(
    months: Sequence[str], bins: Sequence[float], years: Sequence[str], stays: frozenset[str]
) -> CountTable:
    """Bins given by month, by year and to date, as all reports together show them.

    The months are in order, with the bins given in each and its reporting year; cells that stay
    cannot be hidden to protect others.
    """
    labels = list(dict.fromkeys(years))
    count = len(months)
    in_year = np.array([[float(year == label) for year in years] for label in labels])
    by_year = in_year @ np.asarray(bins, dtype=float)
    size = len(labels)
    months_sum = np.hstack([in_year, -np.eye(size), np.zeros((size, size))])
    # bins to date = those to date of the year before + those of the year
    running = np.hstack([np.zeros((size, count)), np.eye(size), np.eye(size, k=-1) - np.eye(size)])
    return CountTable(
        groups=(
            *(f"{MONTH}[{month}]" for month in months),
            *(f"{YEAR}[{label}]" for label in labels),
            *(f"{TO_DATE}[{label}]" for label in labels),
        ),
        values=np.concatenate([bins, by_year, np.cumsum(by_year)]),
        sums=np.vstack([months_sum, running]),
        stays=stays,
    )


def hidden_times(
    months: Sequence[str],
    bins: Sequence[float],
    years: Sequence[str],
    threshold: int,
    seen: PublishedCells | None = None,
    changed: frozenset[str] = frozenset(),
) -> frozenset[str]:
    """Cells of bins by month, year and to date that are not shown.

    The years are gone through in order, each with what the reports of those before have
    shown, so that a month stays hidden, or shown, from report to report.

    Parameters
    ----------
    months, bins, years
        As in `time_table`.
    changed
        Cells that have changed by a small count since one was given out.

    Examples
    --------
    >>> months = ("2025-04", "2025-05", "2025-06", "2025-07")
    >>> sorted(hidden_times(months, (3, 40, 25, 60), ("2025-26",) * 4, 10))
    ['bins_given_in_month[2025-04]', 'bins_given_in_month[2025-06]']
    """
    before = seen or PublishedCells()
    hidden: frozenset[str] = frozenset()
    shown: frozenset[str] = frozenset()
    for label in dict.fromkeys(years):
        count = sum(year <= label for year in years)
        so_far = time_table(months[:count], bins[:count], years[:count], shown | before.shown)
        small = {
            cell
            for cell, value in zip(so_far.groups, so_far.values, strict=True)
            if 0.0 < value < threshold
        }
        must = (small | hidden | before.hidden | changed) & frozenset(so_far.groups)
        if must:
            hidden = suppress(so_far, must, threshold)
        shown = frozenset(so_far.groups) - hidden
    return hidden


def changed_times(
    bins: Mapping[str, float],
    in_year: Mapping[str, str],
    issued: Iterable[FigureRegister],
    threshold: int,
) -> frozenset[str]:
    """Months and sums that have changed by a small count since an issue, and their protection.

    `bins` are those given by month, `in_year` the reporting year of each; `issued` the figures of
    the issues of any year.
    """
    found: set[str] = set()
    sums: set[str] = set()
    for one in issued:
        shown = shown_parts(one, MONTH)
        of_year = {m: n for m, n in bins.items() if in_year[m] == one.reporting_year}
        for now, total in ((of_year, YEAR), (bins, TO_DATE)):
            there = {month: count for month, count in now.items() if month in shown}
            found |= hidden_by_change(there, shown, shown_total(one, total), frozenset(), threshold)
            # of a part of the year no issue shows a sum, but its months add up to one
            was = [value for month in now if (value := shown.get(month)) is not None]
            if len(was) == len(now) and is_small(abs(sum(now.values()) - sum(was)), threshold):
                sums.add(f"{total}[{max(in_year[month] for month in now)}]")
        # a sum that changed by a few tells of them, whatever its parts do
        so_far = {m: n for m, n in bins.items() if in_year[m] <= one.reporting_year}
        for total, parts in ((YEAR, of_year), (TO_DATE, so_far)):
            before = shown_total(one, total)
            if before is not None and is_small(abs(sum(parts.values()) - before), threshold):
                sums.add(f"{total}[{one.reporting_year}]")
    return frozenset(f"{MONTH}[{month}]" for month in found) | sums


def hidden_households(
    in_year: int,
    to_date: int,
    to_date_before: Iterable[int],
    threshold: int,
    in_year_before: Iterable[int] = (),
) -> frozenset[str]:
    """Totals of households that are not shown: small, or giving a small one by difference.

    Parameters
    ----------
    to_date_before
        Households served to date in reports of other years.
    in_year_before
        Households served in the year in issues of the same year.

    Examples
    --------
    >>> sorted(hidden_households(60, 64, (), 10)), sorted(hidden_households(60, 90, (45,), 10))
    (['households_served_to_date'], [])
    """
    differences = [to_date, to_date - in_year, *(abs(to_date - n) for n in to_date_before)]
    hides = {
        HOUSEHOLDS: any(
            is_small(count, threshold)
            for count in (in_year, *(abs(in_year - n) for n in in_year_before))
        ),
        HOUSEHOLDS_TO_DATE: any(is_small(count, threshold) for count in differences),
    }
    return frozenset(name for name, is_hidden in hides.items() if is_hidden)


OF_AREAS = ("households_served_in_year", "households_served_to_date")
BINS, BINS_IN_YEAR = "bins_given", "bins_given_in_year"
"""The count of an area that reports show: its figure, and its column."""

COUNTS = (*OF_AREAS, "bins_given_in_year", "bins_given_to_date")
"""Columns of an area; what is estimated of it is in proportion to one of them."""

WHOLE = " of the whole program"
"""Ends the groups of totals; no area_id begins so."""


def area_table(areas: pl.DataFrame) -> CountTable:
    """Set out the counts of query bins_by_area with the program's totals, a group for each."""
    counts = areas.select(COUNTS).to_numpy().astype(float).T
    totals = counts.sum(axis=1, keepdims=True)
    one_sum = np.r_[np.ones(areas.height), -1.0]
    wholes = [f"{WHOLE}: {name}" for name in COUNTS]
    return CountTable(
        groups=tuple(name for whole in wholes for name in (*areas["area_id"], whole)),
        values=np.hstack([counts, totals]).ravel(),
        sums=np.kron(np.eye(len(COUNTS)), one_sum).astype(np.float64),
        stays=frozenset(wholes),
    )


def hidden_areas(
    areas: pl.DataFrame, privacy: Privacy, issued: Sequence[FigureRegister] = ()
) -> frozenset[str]:
    """Areas of query bins_by_area whose figures are not shown.

    An area is hidden where the households served, in the year or to date, are fewer than
    the threshold but not none; others are hidden with it until no count of a hidden area
    can be bounded more closely than the threshold from what is shown, together with the issues of
    the same year, nor any change since these.

    Examples
    --------
    >>> from planner.program import Privacy
    >>> served = pl.DataFrame({
    ...     "area_id": ["n", "s", "w"],
    ...     "households_served_in_year": [4, 60, 30],
    ...     "households_served_to_date": [9, 90, 80],
    ...     "bins_given_in_year": [4, 61, 30],
    ...     "bins_given_to_date": [9, 92, 80],
    ... })
    >>> sorted(hidden_areas(served, Privacy(small_cell_threshold=10)))
    ['n', 'w']
    """
    threshold = privacy.small_cell_threshold
    is_small = pl.any_horizontal(pl.col(n).is_between(1, threshold - 1) for n in OF_AREAS)
    small = frozenset(areas.filter(is_small)["area_id"])
    hidden = _with_protection(areas, small, threshold)
    # each round hides more areas or is the last, so there are no more of them than areas
    while more := _changed(areas, issued, hidden, threshold) - hidden:
        hidden = _with_protection(areas, hidden | more, threshold)
    return hidden


def _with_protection(areas: pl.DataFrame, small: frozenset[str], threshold: int) -> frozenset[str]:
    if not small:
        return frozenset()
    sums = areas.select(pl.col(COUNTS).sum()).row(0, named=True)
    wholes = {f"{WHOLE}: {name}" for name, count in sums.items() if 0 < count < threshold}
    hidden = suppress(area_table(areas), small | wholes, threshold)
    return frozenset(group for group in hidden if not group.startswith(WHOLE))


def _changed(
    areas: pl.DataFrame,
    issued: Sequence[FigureRegister],
    hidden: frozenset[str],
    threshold: int,
) -> frozenset[str]:
    now = dict(areas.select("area_id", pl.col(BINS_IN_YEAR).cast(pl.Float64)).iter_rows())
    found = (
        hidden_by_change(now, shown_parts(one, BINS), shown_total(one, BINS), hidden, threshold)
        for one in issued
    )
    return frozenset().union(*found)
