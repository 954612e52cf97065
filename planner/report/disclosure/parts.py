"""Small counts, and parts of one whole of which some are small."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.messages import in_each_language
from planner.report.disclosure.audit import CountTable
from planner.report.disclosure.suppression import suppress

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

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
    """Whether a count is small, or is published counts but for a small one.

    Parameters
    ----------
    count
        The count that may be shown.
    others
        Published counts that hold the same households with others, or some of them.
    threshold
        Counts below it but above none are small.

    Examples
    --------
    >>> tells_apart(120, (124, 300), 10), tells_apart(120, (120, 300), 10)
    (True, False)
    """
    return any(is_small(abs(count - other), threshold) for other in (0, *others))


def hidden_parts(parts: Sequence[int], threshold: int) -> frozenset[int]:
    """Places of parts that are not shown where their sum is known.

    Parameters
    ----------
    parts
        Counts of all parts of a whole.
    threshold
        Counts below it but above none are small; so closely no hidden one may be bounded.

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
