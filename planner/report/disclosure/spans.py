"""Counts of spans of days that are published side by side: years, months, grants.

Each alone may be large, and each difference of two; yet the year less one grant, less another,
may be the bins of two days between them. So the sums are set out over the stretches of days into
which all their ends cut the time, and a stretch with a small count must not be bounded closely.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from planner.report.disclosure.audit import TOLERANCE, least
from planner.report.disclosure.parts import is_small

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    import polars as pl
    from numpy.typing import NDArray


class Span(NamedTuple):
    """Days from the first on and before the last, in some areas; in all where none is named."""

    areas: tuple[str, ...]
    first: dt.date
    before: dt.date


def stretches(spans: Iterable[Span]) -> list[tuple[dt.date, dt.date]]:
    """Cut the time at the ends of all spans."""
    ends = sorted({day for one in spans for day in (one.first, one.before)})
    return list(pairwise(ends))


def tell_of_few(
    counts: pl.DataFrame, published: Sequence[Span], asked: Iterable[Span], threshold: int
) -> bool:
    """Whether published sums bound a small count of a stretch more closely than the threshold.

    Parameters
    ----------
    counts
        Frame with first, before, area_id and count, of the stretches of all spans.
    published
        Spans whose counts a reader knows.
    asked
        Spans, besides the stretches themselves, of which a small count is not to be found out.
    threshold
        Counts below it but above none are small; so closely none may be bounded.

    References
    ----------
    As `planner.report.disclosure.audit.bounds`.
    """
    values = counts["count"].to_numpy().astype(float)
    sums = np.array([_mask(counts, one) for one in published]).reshape(-1, values.size)
    named = [one.areas for one in published if one.areas]
    parts = [Span((), *days) for days in stretches((*published, *asked))]
    parts += [Span(areas, *days) for areas in dict.fromkeys(named) for _, *days in parts]
    return any(
        _width(aim, sums, sums @ values) < threshold - TOLERANCE
        for aim in (_mask(counts, one) for one in (*asked, *parts))
        if is_small(float(aim @ values), threshold)
    )


def _mask(counts: pl.DataFrame, span: Span) -> NDArray[np.float64]:
    """Mark the counts that lie in a span."""
    inside = (counts["first"] >= span.first) & (counts["before"] <= span.before)
    if span.areas:
        inside &= counts["area_id"].is_in(span.areas)
    return inside.to_numpy().astype(float)


def _width(
    aim: NDArray[np.float64], sums: NDArray[np.float64], totals: NDArray[np.float64]
) -> float:
    return -least(-aim, sums, totals) - least(aim, sums, totals)
