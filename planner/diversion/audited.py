"""What the survey says of the households whose kerbside bins were audited."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.tables import RESIDUAL_BIN
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.diversion.measured import Diversion


def surveyed_change_kg_per_household_week(
    diversion: Diversion, visits: pl.DataFrame
) -> Numbers | None:
    """Change of food in the residual bin that the survey expects where bins were given.

    Scraps fed to worm bins that went to the residual bin before, over all households that
    took a bin, those that have stopped among them, as an audit opens their bins too, less
    what was thrown back into it. What would have been composted anyway stays in, since the
    households compared with did not ask for a bin. Of
    each month of the audits after the giveaway, weighed by the households audited in it.

    Returns
    -------
    ndarray or None
        Shape (1 + draws_count,), below zero where food went to worm bins [kg per household
        and week]; None where no visit after the giveaway lies in the months measured.

    Notes
    -----
    ``-sum_m a(m) (fed_residual(m) − thrown(m)) / (households(m) weeks(m)) / sum_m a(m)``,
    a(m) households audited in month m, households(m) those that have taken a bin, the month
    of hand-over at the half.
    """
    audited = _audited_by_month(diversion, visits)
    cohorts = diversion.cohorts
    households = cohorts.exposure() @ cohorts.bins_given.sum(axis=(1, 2))
    counted = audited * (households > 0)
    if not counted.any():
        return None
    household_weeks = np.maximum(households, 1.0) * cohorts.weeks
    thrown_kg = diversion.fed_kg * diversion.leakage.thrown_away_share[:, None]
    rate = (diversion.fed_by_route_kg[:, RESIDUAL_BIN] - thrown_kg) / household_weeks
    return np.asarray(-(rate @ counted) / counted.sum())


def _audited_by_month(diversion: Diversion, visits: pl.DataFrame) -> Numbers:
    """Households of given clusters audited after the giveaway, shape (months,)."""
    months = diversion.cohorts.months
    first = months[0]
    late = visits.filter(
        (pl.col("arm").cast(pl.String) == "given") & (pl.col("period").cast(pl.String) == "after")
    ).select(
        place=(pl.col("audit_date").dt.year().cast(pl.Int64) - first.year) * MONTHS_PER_YEAR
        + pl.col("audit_date").dt.month().cast(pl.Int64)
        - first.month,
        households=pl.col("households_count").cast(pl.Float64),
    )
    within = late.filter(pl.col("place").is_between(0, len(months) - 1))
    audited = np.bincount(within["place"], within["households"], minlength=len(months))
    return np.asarray(audited, dtype=np.float64)
