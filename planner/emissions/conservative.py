"""The account with every factor at the end of its range that lowers the net."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.emissions.account import Basis, account_on, net_t_co2e
from planner.emissions.drawn import emission_factors

if TYPE_CHECKING:
    from planner.emissions.activity import Activity
    from planner.emissions.choice import FactorRows
    from planner.factors import Factor
    from planner.program import Emissions

Floats = NDArray[np.float64]


def conservative_basis(
    activity: Activity, rows: FactorRows, choices: Emissions, basis: str
) -> tuple[Basis, dict[str, float]]:
    """Account on one basis with each factor at the end that lowers that basis' net.

    Each end is tried with every other factor at its central value; then all are moved to
    their lowering ends together. What the survey says stays at its central estimate, so the
    variant tells what the factors alone could do.

    Parameters
    ----------
    activity
        The central estimate is used.
    rows
        Of `planner.emissions.choice.choose_emission_factors`.
    choices
        The program's block of the account.
    basis
        One of `planner.emissions.activity.BASES`.

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
    ids = list(dict.fromkeys(row.factor_id for row in rows.every if row.shape != "fixed"))
    tried = np.zeros((2 * len(ids) + 1,), dtype=np.int64)
    net = net_t_co2e(
        activity.picked(tried), emission_factors(rows, lambda row: _ends(row, ids)), choices, basis
    )
    low_net, high_net = net[1::2], net[2::2]
    use_low = {
        factor_id: bool(low <= high)
        for factor_id, low, high in zip(ids, low_net, high_net, strict=True)
        if not low == high == net[0]
    }

    def chosen(row: Factor) -> Floats:
        if row.factor_id not in use_low:
            return np.array([row.value])
        return np.array([row.limits[0] if use_low[row.factor_id] else row.limits[1]])

    centre = activity.picked(np.zeros(1, dtype=np.int64))
    account = account_on(centre, emission_factors(rows, chosen), choices, basis)
    ends = {row.factor_id: float(chosen(row)[0]) for row in reversed(rows.every)}
    return account, {factor_id: ends[factor_id] for factor_id in use_low}


def _ends(row: Factor, ids: list[str]) -> Floats:
    """Central value throughout, but at the two places of the factor itself."""
    values = np.full(2 * len(ids) + 1, row.value)
    if row.factor_id in ids:
        place = 1 + 2 * ids.index(row.factor_id)
        values[place : place + 2] = row.limits
    return values
