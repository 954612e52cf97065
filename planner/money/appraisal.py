"""Present values, and the program's money over the lives of the bins given so far, year by year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import ArrayLike


def present_value(amounts: ArrayLike, discount_rate: float) -> Numbers:
    """Present value of yearly amounts, in money of year 0.

    Parameters
    ----------
    amounts
        Years on the last axis, shape (..., years) [currency]; the first is year 0 and not
        discounted.
    discount_rate
        Yearly rate, real where the amounts are in constant prices.

    Returns
    -------
    ndarray
        Shape (...) [currency].

    Raises
    ------
    ValueError
        The rate is -1 or below.

    Notes
    -----
    ``sum over t of amount_t / (1 + rate)^t``. Sums that fall at the end of each year, as in
    the sample of OMB Circular A-94, begin with a year 0 of nothing.

    References
    ----------
    omb_a94, appendix B, section 1; green_book, annex 6.

    Examples
    --------
    >>> round(float(present_value([0.0, 0.0, 110.25], 0.05)), 9)
    100.0
    """
    if discount_rate <= -1.0:
        message = f"discount_rate: found {discount_rate}, expected above -1"
        raise ValueError(message)
    flows = np.asarray(amounts, dtype=np.float64)
    factors = (1.0 + discount_rate) ** -np.arange(flows.shape[-1], dtype=np.float64)
    return np.asarray(flows @ factors)


def net_present_value(benefits: ArrayLike, costs: ArrayLike, discount_rate: float) -> Numbers:
    """Present value of benefits less that of costs.

    Parameters
    ----------
    benefits, costs
        Shape (..., years) each [currency], year 0 first; they broadcast.

    Examples
    --------
    >>> round(float(net_present_value([0.0, 121.0], [100.0, 0.0], 0.1)), 9)
    10.0
    """
    return present_value(benefits, discount_rate) - present_value(costs, discount_rate)


def benefit_cost_ratio(
    benefits: ArrayLike, costs: ArrayLike, discount_rate: float
) -> Numbers | None:
    """Present value of benefits over that of costs; None where a cost is not above zero.

    Examples
    --------
    >>> round(float(benefit_cost_ratio([0.0, 121.0], [100.0, 0.0], 0.1)), 9)
    1.1
    """
    cost = present_value(costs, discount_rate)
    if np.any(cost <= 0.0):
        return None
    return present_value(benefits, discount_rate) / cost


@dataclass(frozen=True)
class Appraisal:
    """Tonnes, prices and costs of every year; year 0 is the program's first."""

    years: tuple[int, ...]  # calendar years in which the reporting years begin, without a gap
    # shape (1 + draws_count, years): kept out of landfill by the bins given so far [t]
    kept_out_t: Numbers
    # shape (years,): prices as they are expected to be paid [currency/t]
    levy_per_t: Numbers
    gate_fee_per_t: Numbers
    # shape (1 + draws_count, years): ledger, then support of the bins in use [currency]
    cost: Numbers
    # yearly rise of prices at large; takes sums to the prices of year 0
    inflation_share: float = 0.0

    @property
    def price_per_t(self) -> Numbers:
        """Levy and gate fee, shape (years,) [currency/t]."""
        return self.levy_per_t + self.gate_fee_per_t

    @property
    def avoided(self) -> Numbers:
        """Levy and gate fee saved, shape (1 + draws_count, years) [currency]."""
        return self.kept_out_t * self.price_per_t

    def present_value_of_benefits(self, rate: float) -> Numbers:
        """Levy and gate fee saved, in money of year 0, shape (1 + draws_count,)."""
        return present_value(self._constant(self.avoided), rate)

    def present_value_of_costs(self, rate: float) -> Numbers:
        """Costs in money of year 0, shape (1 + draws_count,)."""
        return present_value(self._constant(self.cost), rate)

    def net_present_value(self, rate: float) -> Numbers:
        """Benefits less costs in money of year 0, shape (1 + draws_count,)."""
        return net_present_value(self._constant(self.avoided), self._constant(self.cost), rate)

    def benefit_cost_ratio(self, rate: float) -> Numbers | None:
        """Benefits over costs, shape (1 + draws_count,); None where a cost is not above 0."""
        return benefit_cost_ratio(self._constant(self.avoided), self._constant(self.cost), rate)

    def levelised_cost_per_t(self, rate: float) -> Numbers | None:
        """Costs over tonnes, both discounted: the price at which the program breaks even.

        Shape (1 + draws_count,) [currency/t, prices of year 0]; None where a draw keeps
        nothing out.
        """
        tonnes = present_value(self.kept_out_t, rate)
        if np.any(tonnes <= 0.0):
            return None
        return self.present_value_of_costs(rate) / tonnes

    def _constant(self, amounts: Numbers) -> Numbers:
        """Take sums to the prices of year 0."""
        return np.asarray(amounts / (1.0 + self.inflation_share) ** np.arange(len(self.years)))


def cash_flow(costs: pl.DataFrame, years: Sequence[int], first_month: int) -> Numbers:
    """Sum the ledger by reporting year, shape (years,) [currency].

    Parameters
    ----------
    years
        Calendar years in which the reporting years begin; lines of others are left out.

    Examples
    --------
    >>> import datetime as dt
    >>> import polars as pl
    >>> days = [dt.date(2025, 6, 1), dt.date(2025, 7, 1)]
    >>> ledger = pl.DataFrame({"cost_month": days, "amount": [5.0, 7.0]})
    >>> cash_flow(ledger, [2024, 2025], 7)
    array([5., 7.])
    """
    if costs.is_empty():
        return np.zeros(len(years))
    month = costs["cost_month"].dt.month().to_numpy()
    began = costs["cost_month"].dt.year().to_numpy() - (month < first_month)
    return by_year(costs["amount"].to_numpy(), began, years)


def by_year(amounts: Numbers, began: Integers, years: Sequence[int]) -> Numbers:
    """Sum amounts of months by the year to which each belongs, shape (..., years).

    Parameters
    ----------
    amounts
        Months on the last axis, shape (..., months).
    began
        Shape (months,): year of each.

    """
    belongs = np.asarray(began)[:, None] == np.asarray(years)[None, :]
    return np.asarray(amounts @ belongs.astype(np.float64))
