"""What avoided emissions are worth by a stated carbon value: an option, off unless asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.money.discounting import present_value

if TYPE_CHECKING:
    from numpy.typing import NDArray


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
