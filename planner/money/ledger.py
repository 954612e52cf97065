"""What the ledger says the program cost, by unit too, and what it saves: levy, gate fee, carbon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.figures import INTERVAL_PERCENT
from planner.money.appraisal import present_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


RECEIVED = "copayments_received"
"""Ledger category of what households paid; receipts are negative lines."""


@dataclass(frozen=True)
class ProgramCost:
    """The ledger's sums, in the council's currency; receipts are taken off."""

    # sums over all categories
    in_year: float
    to_date: float
    lines_count: int  # ledger lines behind them


@dataclass(frozen=True)
class Copayments:
    """What households paid, by the ledger and by the hand-overs."""

    in_ledger: float  # receipts of the ledger, positive when money came in
    at_handover: float  # sum of the hand-overs' co-payments
    # bins for which something was paid, and all bins
    payers_count: int
    bins_count: int
    lines_count: int  # ledger lines of the category, up to the end of the year

    @property
    def difference(self) -> float:
        """Ledger less hand-overs: below zero, receipts are missing or booked with a plus."""
        return self.in_ledger - self.at_handover


def program_cost(costs: pl.DataFrame) -> ProgramCost:
    """Add up the ledger; all is zero where it is empty."""
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


def cost_per_unit(cost: float | Numbers, quantity: Numbers) -> Numbers | None:
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
    low = np.percentile(quantity[1:], INTERVAL_PERCENT[0]) if quantity.size > 1 else quantity[0]
    if not np.any(cost) or min(low, quantity[0]) <= 0.0:
        return None
    return np.asarray(cost / np.maximum(quantity, quantity[quantity > 0.0].min()))


def avoided_disposal_cost(
    kept_out_t: Numbers, landfill_levy_per_t: float, gate_fee_per_t: float
) -> Numbers:
    """Levy and gate fee saved on what was kept out of landfill.

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


def price_path(
    known_per_t: Mapping[int, float], years: Sequence[int], rise_share: float
) -> Numbers:
    """Price of a tonne in each year [currency/t], carried on beyond the last that is known.

    A year between known ones keeps the price of the one before it; a year before the
    first has the first's.

    Parameters
    ----------
    known_per_t
        Price by the calendar year in which the reporting year begins [currency/t].
    rise_share
        Yearly rise beyond the last known year.

    Raises
    ------
    ValueError
        No price is known.

    Examples
    --------
    >>> price_path({2024: 100.0, 2025: 110.0}, [2023, 2024, 2025, 2026, 2027], 0.1).round(2)
    array([100. , 100. , 110. , 121. , 133.1])
    """
    if not known_per_t:
        message = "known_per_t: found no year, expected at least one"
        raise ValueError(message)
    known = np.array(sorted(known_per_t))
    prices = np.array([known_per_t[year] for year in known])
    asked = np.asarray(years)
    place = np.maximum(np.searchsorted(known, asked, side="right") - 1, 0)
    beyond = np.maximum(asked - known[-1], 0)
    return np.asarray(prices[place] * (1.0 + rise_share) ** beyond)


def carbon_worth(
    net_t_co2e: Numbers,
    value_per_t_co2e: float,
    years_since_price: int,
    rise_share: float,
    inflation_share: float,
    discount_rate: float,
) -> Numbers:
    """Present value of emissions avoided, each in the year in which it is avoided.

    Parameters
    ----------
    net_t_co2e
        Shape (1 + draws_count, years), year 0 first [t CO2-e].
    value_per_t_co2e
        Carbon value in the prices and for the emissions of its own year [currency/t CO2-e].
    years_since_price
        Years from that year to year 0; below zero where it comes later.
    rise_share
        Yearly rise of the value above inflation.
    inflation_share
        Yearly rise of prices at large: takes the value to the prices of year 0.
    discount_rate
        Real yearly rate.

    Returns
    -------
    ndarray
        Shape (1 + draws_count,) [currency in prices of year 0].

    References
    ----------
    uk_carbon_values_2021: change in emissions of a year × carbon value of that year,
    discounted like other benefits.

    Examples
    --------
    >>> carbon_worth(np.array([[10.0, 10.0]]), 100.0, 0, 0.1, 0.0, 0.1)
    array([2000.])
    """
    years = np.arange(net_t_co2e.shape[-1]) + years_since_price
    values = value_per_t_co2e * (1.0 + rise_share) ** years
    in_prices = (1.0 + inflation_share) ** years_since_price
    return present_value(net_t_co2e * values * in_prices, discount_rate)
