"""Checks on the draws: propagation of error (Approach 1), and every factor at its low end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.emissions.account import IN_NET, Basis, account_on
from planner.emissions.drawn import emission_factors
from planner.factors.draws import quantile
from planner.units import PER_CENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike

    from planner.emissions.activity import Activity
    from planner.emissions.choice import FactorRows
    from planner.factors import Factor
    from planner.program import Emissions


ENDS = (0.025, 0.975)
"""Ends of a 95% interval."""


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
    return PER_CENT * widest / abs(value) if value else float("inf")


def approach_1_percent(
    activity: Activity, rows: FactorRows, choices: Emissions, basis: str
) -> dict[str, float]:
    """Uncertainty of each line and of the net by the Guidelines' Approach 1.

    Each factor's 95% range, the others at their central values, gives what it adds to a
    line; so does the 95% interval of what the survey says. Equation 3.1 joins them to the
    line's, equation 3.2 the lines to the net's.

    Returns
    -------
    dict
        Half the 95% interval in per cent of the value, for each line of the net that is not
        nothing, and for "net"; infinite where a value is nothing beside its range.

    Notes
    -----
    Lines that share scraps or factors are joined as if they did not: the approach knows no
    correlation. It is a check on the draws, not a substitute.

    References
    ----------
    ipcc_2006_v1_ch3, equations 3.1 and 3.2.
    """
    central = emission_factors(rows, lambda row: np.full(activity.fed_kg.shape[0], row.value))
    by_survey = account_on(activity, central, choices, basis).lines
    ends = {row: quantile(row, np.array(ENDS)) for row in rows.every}
    by_factor = _one_at_a_time(activity, rows, choices, basis, ends).lines
    values = {n: float(by_factor[n][0]) for n in IN_NET if n in by_factor and by_factor[n][0]}
    percent = {}
    for name, value in values.items():
        pairs = [np.quantile(by_survey[name][1:], ENDS), *by_factor[name][1:].reshape(-1, 2)]
        parts = [range_uncertainty_percent(value, *map(float, pair)) for pair in pairs]
        percent[name] = product_uncertainty_percent(parts)
    whole = sum_uncertainty_percent(list(values.values()), list(percent.values()))
    return {**percent, "net": whole}


def _one_at_a_time(
    activity: Activity,
    rows: FactorRows,
    choices: Emissions,
    basis: str,
    ends: Mapping[Factor, tuple[float, float] | Numbers],
) -> Basis:
    """Account with all factors central, then with each in turn at its low and at its high end."""
    ids = rows.drawn_ids

    def tried(row: Factor) -> Numbers:
        values = np.full(2 * len(ids) + 1, row.value)
        if row.factor_id in ids:
            place = 1 + 2 * ids.index(row.factor_id)
            values[place : place + 2] = ends[row]
        return values

    centre = activity.picked(np.zeros(2 * len(ids) + 1, dtype=np.int64))
    return account_on(centre, emission_factors(rows, tried), choices, basis)


def conservative_basis(
    activity: Activity, rows: FactorRows, choices: Emissions, basis: str
) -> tuple[Basis, dict[str, float]]:
    """Account on one basis with each factor at the end that lowers that basis' net.

    Each end is tried with every other factor at its central value; then all are moved to
    their lowering ends together. What the survey says stays at its central estimate, so the
    variant tells what the factors alone could do.

    Returns
    -------
    Basis, dict
        Lines of shape (1,), and the end chosen for each factor that moves the net; of a
        factor of several landfills, that of the first.

    Notes
    -----
    Conservativeness is a principle of the GHG Protocol for Project Accounting, chapter 4, and of
    ISO 14064-2:2019, 4.7 (numbers from memory); this rule for it is the project's own.
    """
    limits = {row: row.limits for row in rows.every}
    net = _one_at_a_time(activity, rows, choices, basis, limits).net_t_co2e
    low_net, high_net = net[1::2], net[2::2]
    use_low = {
        factor_id: bool(low <= high)
        for factor_id, low, high in zip(rows.drawn_ids, low_net, high_net, strict=True)
        if not low == high == net[0]
    }

    def chosen(row: Factor) -> Numbers:
        if row.factor_id not in use_low:
            return np.array([row.value])
        return np.array([row.limits[0] if use_low[row.factor_id] else row.limits[1]])

    centre = activity.picked(np.zeros(1, dtype=np.int64))
    account = account_on(centre, emission_factors(rows, chosen), choices, basis)
    ends = {row.factor_id: float(chosen(row)[0]) for row in reversed(rows.every)}
    return account, {factor_id: ends[factor_id] for factor_id in use_low}
