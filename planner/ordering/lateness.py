"""How late a supplier may deliver: its own record, and an allowance until there is one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

PRIOR_ORDERS = 10.0
"""The allowance weighs as much as this many order lines of the supplier's record; judgement."""

PRIOR_LATE_SHARE, PRIOR_NEXT_DAY_SHARE = 0.2, 0.5
"""Allowance: a fifth of deliveries come late, half of those later than any one day more;
judgement, no source."""

MOST_DAYS = 60
"""No delivery is waited for longer than this when days are set."""


@dataclass(frozen=True)
class Lateness:
    """What is known of a supplier's punctuality.

    Attributes
    ----------
    late_days
        Days after the day agreed on which each line came; 0 for those on time.
    """

    late_days: tuple[int, ...] = ()

    def chance_later_than(self, days: int) -> float:
        """Probability that a delivery comes more than so many days late.

        Notes
        -----
        Mean of a Dirichlet law: the allowance, ``0.2 * 0.5**days``, counts as
        `PRIOR_ORDERS` lines next to those of the record.

        Examples
        --------
        >>> round(Lateness().chance_later_than(0), 3)
        0.2
        >>> round(Lateness((0,) * 30).chance_later_than(0), 3)
        0.05
        """
        allowed = PRIOR_LATE_SHARE * PRIOR_NEXT_DAY_SHARE**days
        later = sum(1 for late in self.late_days if late > days)
        return (PRIOR_ORDERS * allowed + later) / (PRIOR_ORDERS + len(self.late_days))

    def buffer_days(self, on_time_level: float) -> int:
        """Least days to plan ahead so that goods have come in time with a probability.

        Examples
        --------
        >>> Lateness().buffer_days(0.95)
        2
        >>> Lateness((0, 4, 0, 6, 5)).buffer_days(0.9)
        5
        """
        enough = (
            days for days in range(MOST_DAYS) if self.chance_later_than(days) <= 1.0 - on_time_level
        )
        return next(enough, MOST_DAYS)


def read_lateness(committed: pl.DataFrame) -> dict[str, Lateness]:
    """Read the record of each supplier from rows of the query orders_committed."""
    known = committed.filter(committed["late_days"].is_not_null())
    return {
        str(supplier): Lateness(tuple(late))
        for supplier, late in known.group_by("supplier_id").agg("late_days").iter_rows()
    }
