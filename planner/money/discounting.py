"""Present values of yearly sums of money."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def present_value(amounts: ArrayLike, discount_rate: float) -> NDArray[np.float64]:
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


def net_present_value(
    benefits: ArrayLike, costs: ArrayLike, discount_rate: float
) -> NDArray[np.float64]:
    """Present value of benefits less that of costs.

    Parameters
    ----------
    benefits, costs
        Shape (..., years) each [currency], year 0 first; they broadcast.
    discount_rate
        Yearly rate.

    Examples
    --------
    >>> round(float(net_present_value([0.0, 121.0], [100.0, 0.0], 0.1)), 9)
    10.0
    """
    return present_value(benefits, discount_rate) - present_value(costs, discount_rate)


def benefit_cost_ratio(
    benefits: ArrayLike, costs: ArrayLike, discount_rate: float
) -> NDArray[np.float64] | None:
    """Present value of benefits over that of costs; None where a cost is not above zero.

    Parameters
    ----------
    benefits, costs
        Shape (..., years) each [currency], year 0 first; they broadcast.
    discount_rate
        Yearly rate.

    Examples
    --------
    >>> round(float(benefit_cost_ratio([0.0, 121.0], [100.0, 0.0], 0.1)), 9)
    1.1
    """
    cost = present_value(costs, discount_rate)
    if np.any(cost <= 0.0):
        return None
    return present_value(benefits, discount_rate) / cost
