"""Disclosure control: which areas are too small to show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from planner.program import Privacy

LEAST_HIDDEN_AREAS = 2
"""One hidden area alone could be found by taking the others from the total."""

HIDDEN = "Not shown: too few households, or needed to protect an area with too few."


def hidden_areas(areas: pl.DataFrame, privacy: Privacy) -> frozenset[str]:
    """Areas whose figures are not shown.

    An area is hidden where the households served, in the year or to date, are fewer than
    the threshold but not none. Where the hidden areas together are only one, or serve
    fewer households than the threshold, the next smallest areas are hidden with them, so
    that no hidden figure follows from the total.

    Parameters
    ----------
    areas
        Query bins_by_area.
    privacy
        small_cell_threshold from the program file.

    Examples
    --------
    >>> from planner.program import Privacy
    >>> served = pl.DataFrame({
    ...     "area_id": ["n", "s", "w"],
    ...     "households_served_in_year": [4, 60, 30],
    ...     "households_served_to_date": [9, 90, 80],
    ... })
    >>> sorted(hidden_areas(served, Privacy(small_cell_threshold=10)))
    ['n', 'w']
    """
    threshold = privacy.small_cell_threshold
    counts = ("households_served_in_year", "households_served_to_date")
    is_small = pl.any_horizontal(
        [(pl.col(name) > 0) & (pl.col(name) < threshold) for name in counts]
    )
    served = areas.filter(pl.col("households_served_to_date") > 0).with_columns(is_small=is_small)
    if not served["is_small"].any():
        return frozenset()
    ranked = served.sort(
        [~pl.col("is_small"), *map(pl.col, counts), pl.col("area_id")]
    ).with_row_index("place", offset=1)
    enough = (
        ~pl.col("is_small")
        & (pl.col("place") > LEAST_HIDDEN_AREAS)
        & pl.all_horizontal(
            [pl.col(name).cum_sum().shift(1, fill_value=0) >= threshold for name in counts]
        )
    )
    return frozenset(ranked.filter(~enough.cum_max())["area_id"])
