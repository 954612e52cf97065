"""Money: program cost, avoided levy and gate fee, unit costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray


LOW_PERCENT = 2.5
"""Lower end of the 95% interval."""


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


def avoided_disposal_cost(
    kept_out_t: NDArray[np.float64], landfill_levy_per_t: float, gate_fee_per_t: float
) -> NDArray[np.float64]:
    """Levy and gate fee not paid on what was kept out of landfill.

    Parameters
    ----------
    kept_out_t
        Draws [t].
    landfill_levy_per_t, gate_fee_per_t
        Prices of the reporting year [currency/t].

    Examples
    --------
    >>> avoided_disposal_cost(np.array([10.0]), 100.0, 50.0)
    array([1500.])
    """
    return kept_out_t * (landfill_levy_per_t + gate_fee_per_t)


def cost_per_unit(cost: float, quantity: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Cost over a quantity, by draw; None where nothing was spent or nothing may be there.

    A ratio to something whose 95% interval reaches zero has no meaning, so none is given.
    Within the interval's tail a draw may still be at or below zero; it is held at the
    smallest draw above zero.

    Parameters
    ----------
    cost
        Sum spent [currency].
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
    if cost == 0.0 or min(low, quantity[0]) <= 0.0:
        return None
    return np.asarray(cost / np.maximum(quantity, quantity[quantity > 0.0].min()))
