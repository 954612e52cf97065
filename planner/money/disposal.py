"""What a tonne kept out of landfill saves, and what avoided emissions are worth if asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.money.appraisal import present_value

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray


def avoided_disposal_cost(
    kept_out_t: NDArray[np.float64], landfill_levy_per_t: float, gate_fee_per_t: float
) -> NDArray[np.float64]:
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
) -> NDArray[np.float64]:
    """Price of a tonne in each year: as known, and carried on beyond the last known year.

    A year between known ones keeps the price of the one before it; a year before the
    first has the first's.

    Parameters
    ----------
    known_per_t
        Price by the calendar year in which the reporting year begins [currency/t].
    years
        Years asked for.
    rise_share
        Yearly rise beyond the last known year.

    Returns
    -------
    ndarray
        Shape (years,) [currency/t].

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
    net_t_co2e: NDArray[np.float64],
    value_per_t_co2e: float,
    years_since_price: int,
    rise_share: float,
    inflation_share: float,
    discount_rate: float,
) -> NDArray[np.float64]:
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
