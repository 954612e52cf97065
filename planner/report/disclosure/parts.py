"""Small counts, parts of one whole of which some are small, and spans of days side by side.

Counts of years, months and grants are published beside each other. Each alone may be large, and
each difference of two; yet the year less one grant, less another, may be the bins of two days
between them. So the sums are set out over the stretches of days into which all their ends cut
the time, and a stretch with a small count must not be bounded closely.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from planner.arrays import Numbers
from planner.figures import Figure, FigureRegister
from planner.messages import in_each_language, said
from planner.report.disclosure.suppression import (
    TOLERANCE,
    CountTable,
    least_sum,
    suppress,
    too_close,
)

if TYPE_CHECKING:
    import polars as pl


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
    return frozenset(map(int, suppress(table, small, threshold)))


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
    totals = sums @ values
    return any(
        -least_sum(-aim, sums, totals) - least_sum(aim, sums, totals) < threshold - TOLERANCE
        for aim in (_mask(counts, one) for one in (*asked, *parts))
        if is_small(float(aim @ values), threshold)
    )


def _mask(counts: pl.DataFrame, span: Span) -> Numbers:
    inside = (counts["first"] >= span.first) & (counts["before"] <= span.before)
    if span.areas:
        inside &= counts["area_id"].is_in(span.areas)
    return inside.to_numpy().astype(float)


STANDS = "why.stands"
"""Key of what begins the method of a figure that stands as an earlier issue shows it."""

BEFORE, CHANGE = " before: ", " change of: "
"""Begin the names of cells beside the parts; no id begins so."""


def hidden_by_change(
    now: Mapping[str, float],
    before: Mapping[str, float | None],
    total_before: float | None,
    hidden: AbstractSet[str],
    threshold: int,
) -> frozenset[str]:
    """Parts that are not shown, so that no small change since an earlier issue is found out.

    These are parts whose change is small, parts that protect them, and parts that the issue hid.

    Parameters
    ----------
    before, total_before
        What the issue showed of each part, and of their sum; None where it did not.
    hidden
        Parts that are not shown for another reason.
    threshold
        Changes below it but above none are small; so closely none may be bounded.

    Examples
    --------
    >>> now = {"north": 61.0, "south": 75.0, "west": 90.0}
    >>> before = {"north": 60.0, "south": 60.0, "west": 90.0}
    >>> sorted(hidden_by_change(now, before, 210.0, set(), 10))
    ['north', 'south']
    """
    before = {part: before[part] for part in now if part in before}
    kept = {part for part in now if part in before and before[part] is None}
    known = {part: now[part] - value for part in now if (value := before.get(part)) is not None}
    small = {part for part, change in known.items() if is_small(abs(change), threshold)}
    change_in_all = 0.0 if total_before is None else sum(now.values()) - total_before
    # what changed in the parts that the issue hid, if a reader can tell
    grown = kept if abs(change_in_all - sum(known.values())) > 0.0 else frozenset()
    if not small and not grown:
        return frozenset(kept)
    must = frozenset(kept | small | (hidden & set(now)))
    if total_before is None or len(known) + len(kept) < len(now):
        # without every part and their sum no change follows from the others
        return must
    rest = total_before - sum(value for value in before.values() if value is not None)
    if rest < -TOLERANCE or (not kept and rest > TOLERANCE):
        # an issue that was altered by hand adds up no more
        return must
    table = _both(now, before, total_before)
    changes = frozenset(f"{CHANGE}{part}" for part in now)
    unseen = changes | {f"{BEFORE}{part}" for part in kept}
    protected = {f"{CHANGE}{part}" for part in small | grown}
    found = suppress(table, must | unseen, threshold, protected)
    weak = {table.groups[cell] for cell in too_close(table, found, threshold)} & protected
    return frozenset(now) if weak else found & frozenset(now)


def _both(
    now: Mapping[str, float], before: Mapping[str, float | None], total_before: float
) -> CountTable:
    """Set out both reports: parts now and before, how each changed, and the two sums.

    What the earlier one hid is filled in as any reader may: the rest of its sum, shared out.
    Changes are counted in the direction that they took, which a reader may know.
    """
    parts = list(now)
    unknown = [part for part in parts if before[part] is None]
    rest = total_before - sum(value for value in before.values() if value is not None)
    held = sum(now[part] for part in unknown)
    # shared out as they are now, so that all of them grew or all of them shrank
    shares = {part: now[part] / held if held else 1.0 / len(unknown) for part in unknown}
    was = np.array([rest * shares[p] if (value := before[p]) is None else value for p in parts])
    current = np.array([now[part] for part in parts])
    grown, one = current - was, np.eye(len(parts))
    signs = np.where(grown < 0.0, -1.0, 1.0)
    row, no_row, none = np.ones((1, len(parts))), np.zeros((1, len(parts))), np.zeros((1, 1))
    less, no_column = -np.ones((1, 1)), np.zeros((len(parts), 1))
    return CountTable(
        groups=(
            *parts,
            *(f"{BEFORE}{part}" for part in parts),
            *(f"{CHANGE}{part}" for part in parts),
            WHOLE,
            f"{BEFORE}{WHOLE}",
        ),
        values=np.concatenate([current, was, np.abs(grown), [current.sum(), total_before]]),
        sums=np.vstack(
            [
                np.hstack([row, no_row, no_row, less, none]),
                np.hstack([no_row, row, no_row, none, less]),
                np.hstack([one, -one, -np.diag(signs), no_column, no_column]),
            ]
        ),
        stays=frozenset({WHOLE, *(f"{BEFORE}{one}" for one in (*parts, WHOLE))}),
    )


def shown_parts(register: FigureRegister, name: str) -> dict[str, float | None]:
    """Read what a report shows of the parts of a count; None for one that it hides."""
    return {part: _shown(figure) for part, figure in register.parts(name).items()}


def shown_total(register: FigureRegister, name: str) -> float | None:
    """Read what a report shows of a count; None where it shows none."""
    return _shown(register[name]) if name in register else None


def is_from_earlier_issue(figure: Figure) -> bool:
    """Whether a figure is that of an earlier issue, what changed since being held back."""
    return figure.method.startswith(in_each_language(STANDS))


def with_issued_areas(
    register: FigureRegister, issued: Sequence[FigureRegister], areas: Iterable[str]
) -> FigureRegister:
    """Let the areas that are hidden stand as the newest issue of the same time shows them.

    The `register` has figures as they may be shown; `issued` are those of every issue.
    """
    ends = (register.reporting_year, register.through_date)
    same = [one for one in issued if (one.reporting_year, one.through_date) == ends]
    if not same:
        return register
    known, of_areas = same[-1], frozenset(areas)
    made = replace(register, _figures={})
    for figure in register:
        before = known.find(figure.id) if figure.part in of_areas else None
        may_stand = is_hidden(figure) and before is not None
        made.add(_as_given_out(before) if may_stand and before else figure)
    return made


def _as_given_out(before: Figure) -> Figure:
    """Take a figure of an issue, or that it hides one, with what it rested on then left out."""
    if before.value is None or is_from_earlier_issue(before):
        return before
    return replace(before, method=f"{said(STANDS)} {before.method}", inputs=())


def _shown(figure: Figure) -> float | None:
    # one that stands tells nothing of its own day
    return None if is_from_earlier_issue(figure) else figure.value
