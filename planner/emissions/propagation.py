"""Approach 1 of the Guidelines: propagation of error, beside the draws of Approach 2."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

PERCENT = 100.0


def product_uncertainty_percent(uncertainties_percent: ArrayLike) -> float:
    """Uncertainty of a product from those of its factors.

    Parameters
    ----------
    uncertainties_percent
        Half the 95% interval over the value, of each uncorrelated factor [%].

    Notes
    -----
    U = √ΣUᵢ². Meant for small and symmetric uncertainties, under some 30%.

    References
    ----------
    ipcc_2006_v1_ch3, equation 3.1.

    Examples
    --------
    >>> round(product_uncertainty_percent([20, 20, 5, 10]), 2)
    30.41
    """
    return float(np.sqrt(np.square(np.asarray(uncertainties_percent, dtype=np.float64)).sum()))


def sum_uncertainty_percent(amounts: ArrayLike, uncertainties_percent: ArrayLike) -> float:
    """Uncertainty of a sum from those of its uncorrelated terms.

    Parameters
    ----------
    amounts
        Terms with their signs, any unit.
    uncertainties_percent
        Of each term, half the 95% interval over the value [%].

    Returns
    -------
    float
        Infinite where the terms cancel.

    Notes
    -----
    U = √Σ(Uᵢ xᵢ)² / |Σxᵢ|.

    References
    ----------
    ipcc_2006_v1_ch3, equation 3.2.

    Examples
    --------
    >>> round(sum_uncertainty_percent([100.0, -50.0], [10.0, 20.0]), 2)
    28.28
    """
    terms = np.asarray(amounts, dtype=np.float64)
    spread = np.sqrt(np.square(terms * np.asarray(uncertainties_percent)).sum())
    whole = abs(terms.sum())
    return float(spread / whole) if whole > 0.0 else float("inf")


def range_uncertainty_percent(value: float, low: float, high: float) -> float:
    """Uncertainty of a factor from its range; the larger side where it is uneven.

    Returns
    -------
    float
        In per cent of the value; infinite for a value of nothing with a range.

    References
    ----------
    ipcc_2006_v1_ch3, Table 3.2, notes on columns E and F (from memory).

    Examples
    --------
    >>> round(range_uncertainty_percent(0.15, 0.08, 0.20), 1)
    46.7
    """
    widest = max(abs(high - value), abs(value - low))
    if widest == 0.0:
        return 0.0
    return PERCENT * widest / abs(value) if value else float("inf")
