"""The ledger: program cost, unit costs, co-payments from two sides, work not paid for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

LOW_PERCENT = 2.5
"""Lower end of the 95% interval."""

RECEIVED = "copayments_received"
"""Ledger category of what households paid; receipts are negative lines."""


@dataclass(frozen=True)
class ProgramCost:
    """The ledger's sums, in the council's currency; receipts are taken off.

    Parameters
    ----------
    in_year, to_date
        Sums over all categories.
    lines_count
        Ledger lines behind them.
    """

    in_year: float
    to_date: float
    lines_count: int


@dataclass(frozen=True)
class Copayments:
    """What households paid, by the ledger and by the hand-overs.

    Parameters
    ----------
    in_ledger
        Receipts of the ledger, positive when money came in.
    at_handover
        Sum of the hand-overs' co-payments.
    payers_count, bins_count
        Bins for which something was paid, and all bins.
    lines_count
        Ledger lines of the category, up to the end of the year.
    """

    in_ledger: float
    at_handover: float
    payers_count: int
    bins_count: int
    lines_count: int

    @property
    def difference(self) -> float:
        """Ledger less hand-overs: below zero, receipts are missing or booked with a plus."""
        return self.in_ledger - self.at_handover


def program_cost(costs: pl.DataFrame) -> ProgramCost:
    """Add up the ledger.

    Parameters
    ----------
    costs
        Query costs_by_category.

    Returns
    -------
    ProgramCost
        All zero for an empty ledger.
    """
    return ProgramCost(
        float(costs["amount_in_year"].sum()),
        float(costs["amount_to_date"].sum()),
        int(costs["lines_count"].sum()),
    )


def copayments(costs: pl.DataFrame, at_handover: pl.DataFrame, period: str) -> Copayments:
    """Set the ledger's receipts beside what the hand-overs say was paid.

    The ledger alone counts in the program's cost: a hand-over's co-payment is what the
    household owed or paid that day, a receipt what the council booked. A receipt is a
    negative line; a positive line of its category is money paid back.

    Parameters
    ----------
    costs
        Query costs_by_category.
    at_handover
        Query copayments_at_handover.
    period
        "in_year" or "to_date".
    """
    received = costs.filter(pl.col("category") == RECEIVED)
    (given,) = at_handover.rows(named=True)
    return Copayments(
        in_ledger=-float(received[f"amount_{period}"].sum()) + 0.0,
        at_handover=given[f"paid_{period}"],
        payers_count=given[f"payers_{period}"],
        bins_count=given[f"bins_{period}"],
        lines_count=int(received["lines_count"].sum()),
    )


def in_kind_cost(hours_and_rates: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Hours that no ledger line pays for, and their worth.

    Examples
    --------
    >>> in_kind_cost([(10.0, 30.0), (2.0, 50.0)])
    (12.0, 400.0)
    """
    rows = list(hours_and_rates)
    return sum(hours for hours, _ in rows), sum(hours * rate for hours, rate in rows)


def cost_per_unit(
    cost: float | NDArray[np.float64], quantity: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Cost over a quantity, by draw; None where nothing was spent or nothing may be there.

    A ratio to something whose 95% interval reaches zero has no meaning, so none is given.
    Within the interval's tail a draw may still be at or below zero; it is held at the
    smallest draw above zero.

    Parameters
    ----------
    cost
        Sum spent, one or by draw [currency].
    quantity
        Draws, shape (1 + draws_count,).

    Examples
    --------
    >>> cost_per_unit(100.0, np.array([4.0, 5.0]))
    array([25., 20.])
    >>> cost_per_unit(100.0, np.array([4.0, -1.0])) is None
    True
    """
    low = np.percentile(quantity[1:], LOW_PERCENT) if quantity.size > 1 else quantity[0]
    if not np.any(cost) or min(low, quantity[0]) <= 0.0:
        return None
    return np.asarray(cost / np.maximum(quantity, quantity[quantity > 0.0].min()))
