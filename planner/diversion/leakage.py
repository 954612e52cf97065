"""Leakage: scraps that would have been composted anyway, or were thrown away after all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, places_of
from planner.survey.feed import reports_of
from planner.survey.retention import active_months
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from planner.program import Program
    from planner.survey.feed import Calibration
    from planner.survey.retention import Retention
    from planner.survey.row_weights import Weights

ANYWAY, THROWN_AWAY = "would_have_composted_anyway_share", "contents_binned_share"

FACTOR_IDS = (ANYWAY, THROWN_AWAY)
"""Factors that stand in where the survey did not ask."""

QUESTIONS = {ANYWAY: "would_have_composted_share", THROWN_AWAY: "thrown_away_share"}
"""Column of the answers that takes the place of each factor."""

LEAST_ANSWERS = 30
"""Fewest answers to a question from which its own share is taken."""


@dataclass(frozen=True)
class Leakage:
    """What is taken off the scraps that would have been landfilled."""

    # shape (1 + draws_count,): of the scraps that would have been landfilled, share that the
    # household would have composted, or fed to animals, without the worm bin
    composted_anyway_share: Numbers
    # shape (1 + draws_count,): of the scraps fed, share that was thrown in the residual bin after
    # all
    thrown_away_share: Numbers
    # answers behind each share, by factor; nothing where the share is assumed
    answers_count: Mapping[str, int]

    def is_surveyed(self, factor_id: str) -> bool:
        """Whether a share comes from the survey."""
        return self.answers_count[factor_id] > 0

    def steps_kg(
        self, fed_kg: Numbers, residual_kg: Numbers, landfilled_share: float
    ) -> tuple[Numbers, Numbers, Numbers]:
        """Go the last steps of the chain from what was fed to what was kept out of landfill.

        Parameters
        ----------
        fed_kg, residual_kg
            Shape (1 + draws_count, ...): scraps fed, and of them those that went to the
            residual bin before [kg].

        Returns
        -------
        tuple of ndarray
            Landfilled before; that less what would have been composted anyway; that less
            what was thrown away after all and landfilled: kept out of landfill. Same shape
            [kg].

        Notes
        -----
        ``L = λ R (1 − c) − λ b M``: R from the residual bin, M fed, λ landfilled, c
        composted anyway, b thrown away after all. Where little went to the residual bin
        before, so much may be thrown away that L is below nothing: more is landfilled
        than without the bins.
        """
        rows = (slice(None), *[np.newaxis] * (fed_kg.ndim - 1))
        not_anyway = residual_kg * (1.0 - self.composted_anyway_share[rows])
        return (
            residual_kg * landfilled_share,
            not_anyway * landfilled_share,
            (not_anyway - fed_kg * self.thrown_away_share[rows]) * landfilled_share,
        )

    def kept_out_kg(
        self, fed_kg: Numbers, residual_kg: Numbers, landfilled_share: float
    ) -> Numbers:
        """Kept out of landfill, the end of the chain; arguments as for `steps_kg`.

        With a landfilled share of 1, what leaks leave of what went to the residual bin before.
        """
        return self.steps_kg(fed_kg, residual_kg, landfilled_share)[2]


def leakage(
    answers: pl.DataFrame,
    weights: Weights,
    calibration: Calibration,
    retention: Sequence[Retention],
    factors: Mapping[str, Numbers],
    program: Program,
    from_date: dt.date,
) -> Leakage:
    """Estimate both shares from the answers, or take what is assumed where few answered.

    A household's answer counts for the scraps it fed in the year: its weekly feed times the
    days of the year for which its bin was in use until it was asked. Where fewer than thirty
    fed anything in the year, all days count. A bin that is out of use fed as much as the
    others while it was not.

    Parameters
    ----------
    weights
        Shape (1 + draws_count, answers).
    retention
        Curves by dwelling, in the order of tables.DWELLINGS.
    factors
        Draws, shape (1 + draws_count,), of the factors named in FACTOR_IDS.
    program
        A share that its block [leakage] states is certain, whatever was answered.
    from_date
        First day of the reporting year. Those who give up throw more away, and fed most of
        it in the year of their hand-over: over all days theirs would pass for this year's.

    References
    ----------
    World Resources Institute and WBCSD (2005), The GHG Protocol for Project Accounting: what
    would have happened anyway belongs to the baseline (chapter 8), what the project causes
    elsewhere is a secondary effect (chapter 5); in ISO 14064-2:2019 the affected sources of 6.3
    (all from memory). Ratio estimate:
    Cochran, W. G. (1977), Sampling Techniques, 3rd ed., section 6.2.
    """
    weekly_kg, used = _weekly_kg(answers, weights[0], calibration), _used_months(answers, retention)
    before = answers.select(pl.lit(from_date) - pl.col("first_handover_date")).to_series()
    earlier = np.maximum(before.dt.total_days().to_numpy() / DAYS_PER_MONTH, 0.0)
    amounts_kg = (weekly_kg * np.maximum(used - earlier, 0.0), weekly_kg * used)
    stated = program.leakage.model_dump(exclude_none=True)
    shares: dict[str, Numbers] = {}
    counts: dict[str, int] = {}
    for factor_id, question in QUESTIONS.items():
        answer = answers[question].to_numpy().astype(np.float64)
        of_year, of_all = (~np.isnan(answer) & (kilograms > 0.0) for kilograms in amounts_kg)
        is_enough = bool(of_year.sum() >= LEAST_ANSWERS)
        counted, amount_kg = (of_year, amounts_kg[0]) if is_enough else (of_all, amounts_kg[1])
        counts[factor_id] = 0
        if factor_id in stated:
            shares[factor_id] = np.full_like(factors[factor_id], stated[factor_id])
        elif counted.sum() < LEAST_ANSWERS:
            shares[factor_id] = factors[factor_id]
        else:
            counts[factor_id] = int(counted.sum())
            of_fed = weights[:, counted] * amount_kg[counted]
            shares[factor_id] = (of_fed @ answer[counted]) / of_fed.sum(axis=1)
    return Leakage(shares[ANYWAY], shares[THROWN_AWAY], counts)


def _weekly_kg(answers: pl.DataFrame, weights: Numbers, calibration: Calibration) -> Numbers:
    """Scraps a household feeds a week, those who do not tell as much as the others [kg]."""
    reports = reports_of(answers)
    weekly_kg = calibration.central_kg(reports)
    has_feed = reports.has_report
    usual_kg = np.average(weekly_kg[has_feed], weights=weights[has_feed])
    return np.asarray(np.where(has_feed, weekly_kg, usual_kg))


def _used_months(answers: pl.DataFrame, retention: Sequence[Retention]) -> Numbers:
    """Months for which each household used its bin, shape (answers,)."""
    ages = answers.select(pl.col("used_days", "used_at_most_days").cast(pl.Float64).fill_null(0.0))
    lower, upper = ages.to_numpy().T / DAYS_PER_MONTH
    months, dwelling = lower.copy(), places_of(answers["dwelling"], DWELLINGS)
    for code, curve in enumerate(retention):
        own = (dwelling == code) & (upper > lower)
        months[own] = mean_age_between(curve, lower[own], upper[own])
    return np.asarray(months)


def mean_age_between(curve: Retention, lower: Numbers, upper: Numbers) -> Numbers:
    """Mean age at which a bin stopped that is known to have stopped between two ages [months].

    Parameters
    ----------
    curve
        A fitted curve; its central row is taken.
    lower, upper
        Shape (n,): equal where the age is known [months].

    Notes
    -----
    ``L + (∫ S from L to R - (R - L) S(R)) / (S(L) - S(R))``, by parts from the mean of a time
    given that it lies in (L, R].

    Examples
    --------
    >>> from planner.survey.retention import Retention
    >>> even = Retention(np.zeros(1), np.ones((1, 1)), 1e9, (), 0, 0, 1e9)
    >>> mean_age_between(even, np.array([2.0, 5.0]), np.array([4.0, 5.0])).round(6).tolist()
    [3.0, 5.0]
    """
    central = curve.first(1)
    area = active_months(central, upper)[0] - active_months(central, lower)[0]
    still_low, still_high = central.in_use_share(lower)[0], central.in_use_share(upper)[0]
    stopped, wide = still_low - still_high, upper - lower
    # where the curve hardly falls, which end is likelier is noise
    share = np.divide(
        area - wide * still_high, stopped, out=wide / 2.0, where=stopped > 1e-9 * wide
    )
    return np.asarray(lower + np.clip(share, 0.0, wide))
