"""Small counts, parts of one whole of which some are small, and spans of days side by side.

Counts of years, months and grants are published beside each other. Each alone may be large, and
each difference of two; yet the year less one grant, less another, may be the bins of two days
between them. So the sums are set out over the stretches of days into which all their ends cut
the time, and a stretch with a small count must not be bounded closely.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from planner.messages import in_each_language
from planner.report.disclosure.suppression import TOLERANCE, CountTable, least, suppress

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Sequence

    import polars as pl
    from numpy.typing import NDArray

    from planner.figures import Figure

WHOLE = "whole"

HIDDEN = "why.hidden"
"""Key of the sentence that stands in place of the method of a figure that is not shown."""


def is_hidden(figure: Figure) -> bool:
    """Whether a figure is not shown, in whatever language it says so.

    A figure that is read back may come from a paper in another language.
    """
    return figure.value is None and figure.method in in_each_language(HIDDEN)


def is_small(count: float, threshold: int) -> bool:
    """Whether a count is below the threshold but not none."""
    return 0 < count < threshold


def hides_part(part: int, whole: int, threshold: int) -> bool:
    """Whether a part of a whole, as answers of those asked, is not shown.

    The part, the whole and what is left of it must each be none or reach the threshold.

    Examples
    --------
    >>> hides_part(171, 300, 10), hides_part(95, 100, 10)
    (False, True)
    """
    return any(is_small(count, threshold) for count in (part, whole, whole - part))


def tells_apart(count: int, others: Iterable[int], threshold: int) -> bool:
    """Whether a count is small, or is another but for a small one.

    The others are published counts that hold the same households with others, or some of them.

    Examples
    --------
    >>> tells_apart(120, (124, 300), 10), tells_apart(120, (120, 300), 10)
    (True, False)
    """
    return any(is_small(abs(count - other), threshold) for other in (0, *others))


def hidden_parts(parts: Sequence[int], threshold: int) -> frozenset[int]:
    """Places of the parts of a whole that are not shown where their sum is known.

    No hidden one may be bounded more closely than the threshold.

    Examples
    --------
    >>> sorted(hidden_parts((4, 171, 60), 10))
    [0, 2]
    """
    small = {str(place) for place, count in enumerate(parts) if is_small(count, threshold)}
    if not small:
        return frozenset()
    total = sum(parts)
    table = CountTable(
        groups=(*map(str, range(len(parts))), WHOLE),
        values=np.array([*parts, total], dtype=float),
        sums=np.array([[*np.ones(len(parts)), -1.0]]),
        stays=frozenset({WHOLE}),
    )
    whole = {WHOLE} if is_small(total, threshold) else set()
    hidden = suppress(table, small | whole, threshold)
    return frozenset(int(group) for group in hidden - {WHOLE})


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
    asked
        Spans, besides the stretches themselves, of which a small count is not to be found out.

    References
    ----------
    As `planner.report.disclosure.suppression.bounds`.
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
