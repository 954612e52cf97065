"""The request for an order: days, forecast, and how hard to search."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

DAYS_AHEAD = 366
"""Days ahead for which is ordered unless said."""

DEFAULT_GAP = 0.005
DEFAULT_NODES = 400
"""Nodes of a search: minutes of work where every supplier sells every item; orders of
councils, whose suppliers sell bins or bedding or worms, end well before by their gap."""

FIRST_PLAN_WORK = 10_000_000
"""A minute or two of work."""

WORK = 3_000_000
"""A node takes longer the larger the problem: two or three minutes of work at 13,000 columns."""


@dataclass(frozen=True)
class Effort:
    """How near to the least cost to come, and how much work to spend at most."""

    gap: float = DEFAULT_GAP  # share by which the cost may lie above what is proven to be the least
    nodes_count: int = DEFAULT_NODES  # most nodes of one search
    # most nodes times columns of a second search, where the nodes of the first ended before any
    # plan was found: limits that barely leave room hide their plans well
    first_plan_work: int = FIRST_PLAN_WORK
    work: int = WORK  # most nodes times columns of a search for the cheapest plan


@dataclass(frozen=True)
class OrderRequest:
    """Days, forecast and effort of an order."""

    # first day on which may be ordered, and last hand-over day that is served
    from_date: dt.date
    until_date: dt.date
    forecast_file: Path | None = None  # weather forecast, where there is one
    # how hard to search for the cheapest plan and for each alternative
    effort: Effort = field(default_factory=Effort)
    alternatives_effort: Effort = field(
        default_factory=lambda: Effort(0.005, 200, first_plan_work=0)
    )
    # where no plan meets every limit, plan with the least change made
    accepts_changes: bool = False
