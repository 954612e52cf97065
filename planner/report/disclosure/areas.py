"""Areas that are too small to show, and those that protect them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.report.disclosure.releases import hidden_by_change, shown_parts, shown_total
from planner.report.disclosure.suppression import CountTable, suppress

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.figures import FigureRegister
    from planner.program import Privacy

HOUSEHOLDS = ("households_served_in_year", "households_served_to_date")
BINS, BINS_IN_YEAR = "bins_given", "bins_given_in_year"
"""The count of an area that reports show: its figure, and its column."""

COUNTS = (*HOUSEHOLDS, "bins_given_in_year", "bins_given_to_date")
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
    is_small = pl.any_horizontal(pl.col(n).is_between(1, threshold - 1) for n in HOUSEHOLDS)
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
