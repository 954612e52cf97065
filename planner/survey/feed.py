"""Feed: kilograms that an in-use bin takes a week, from reports and weighed diaries."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.arrays import Flags, Numbers, quotient
from planner.survey.double_sampling import choose_estimator, regression_rows

if TYPE_CHECKING:
    from planner.survey.double_sampling import Estimator
    from planner.survey.row_weights import Weights


LEAST_PAIRS = 10
"""Fewest diary households from which the program's own ratio is taken."""

Basis = Literal["own weighings", "own weighings in kg, published density", "published factors"]


@dataclass(frozen=True)
class Reports:
    """Feed reported by each answer, in kilograms or else in litres, nothing out of use."""

    # shape (answers,): litres count where no kilograms are given, so that nothing is counted twice
    kg: Numbers
    litres: Numbers
    # shape (answers,): 1 where an in-use bin's feed is reported in that unit
    in_kg: Numbers
    in_litres: Numbers

    @property
    def has_report(self) -> Flags:
        """Shape (answers,): whether a bin in use has an answer on its feed."""
        return np.asarray((self.in_kg + self.in_litres) > 0.0)

    def of(self, chosen: Flags) -> Reports:
        """Keep some of the answers."""
        parts = (self.kg, self.litres, self.in_kg, self.in_litres)
        return Reports(*(part[chosen] for part in parts))


@dataclass(frozen=True)
class UnitCalibration:
    """What reports in one unit weigh."""

    # shape (1 + draws_count,): kilograms weighed for a unit reported, over all reports
    kg_per_unit: Numbers
    basis: Basis
    # ratio or regression, see `planner.survey.double_sampling.choose_estimator`
    estimator: Estimator = "ratio"
    pairs_count: int = 0  # diary households that reported in this unit
    # of the central line, where it is a regression; 0 and the ratio otherwise
    intercept: float = 0.0
    slope: float = 0.0
    # of weighed and reported among the pairs; nan with fewer than ten
    correlation_squared: float = float("nan")


@dataclass(frozen=True)
class Calibration:
    """What reports in kilograms and in litres weigh."""

    of_kg: UnitCalibration
    of_litres: UnitCalibration

    def weighed_kg(
        self, weights: Weights, reports: Reports, shares: Numbers | None = None
    ) -> Numbers:
        """Weighted kilograms behind reports, shape (1 + draws_count, columns of shares).

        Parameters
        ----------
        weights
            Shape (1 + draws_count, answers).
        shares
            Shape (answers, p): parts into which each answer's kilograms are divided; one
            column of ones unless said.
        """
        parts = np.ones((reports.kg.size, 1)) if shares is None else shares
        both = np.hstack([reports.kg[:, None] * parts, reports.litres[:, None] * parts])
        kg, litres = np.hsplit(weights @ both, 2)
        return np.asarray(
            self.of_kg.kg_per_unit[:, None] * kg + self.of_litres.kg_per_unit[:, None] * litres
        )

    def central_kg(self, reports: Reports) -> Numbers:
        """Kilograms behind each report by the central calibration, shape (answers,)."""
        in_kg = self.of_kg.kg_per_unit[0] * reports.kg
        return np.asarray(in_kg + self.of_litres.kg_per_unit[0] * reports.litres)


def calibrate(
    diaries: tuple[pl.DataFrame, Weights],
    reported: tuple[Reports, Weights],
    self_report_share: Numbers,
    density_kg_per_litre: Numbers,
) -> Calibration:
    """Set reports against weighings, for each unit reported.

    Double sampling. With at least ten diary households that reported in kilograms their
    ratio of weighed to reported is used, or the line through them where the rule of
    `choose_estimator` prefers it; otherwise the published share of self-reports that is
    confirmed by weighing. With at least ten that reported in litres theirs are used,
    otherwise the published density times what a reported kilogram weighs. A report of
    nothing counts where something was weighed. The replicate weights are those of the
    survey round, so that the calibration moves with the reports that it sets right and its
    variance over replicates is that of both phases.

    Parameters
    ----------
    diaries
        Query diary_pairs: fed_kg_last_week [kg], fed_litres_last_week [litres],
        weighed_kg_per_week [kg/week]; and weights of shape (1 + draws_count, pairs).
    reported
        Reports of all answers, and weights of shape (1 + draws_count, answers).
    self_report_share, density_kg_per_litre
        Shape (1 + draws_count,): draws of the published factors [share], [kg/litre].

    Notes
    -----
    A line gives the mean over all reports x, ``(a + b mean x) / mean x`` of a unit reported,
    and parts (rounds, dwellings, routes) take theirs in proportion: how far one household's
    report misses flattens the line, but evens out in the mean of a part.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd ed., Wiley, sections 12.6 and 12.9.
    Fuller, W.A. (1987), Measurement Error Models, Wiley, section 1.1 (flattened lines).
    """
    pairs, weights = diaries
    told, of_answers = reported
    in_kg = pairs["fed_kg_last_week"].is_not_null()
    in_litres = ~in_kg & pairs["fed_litres_last_week"].is_not_null()
    kg = _own(
        pairs.filter(in_kg),
        weights[:, in_kg.to_numpy()],
        "fed_kg_last_week",
        _mean_report(told.kg, told.in_kg, of_answers),
    )
    if kg.basis == "published factors":
        kg = replace(kg, kg_per_unit=self_report_share)
    litres = _own(
        pairs.filter(in_litres),
        weights[:, in_litres.to_numpy()],
        "fed_litres_last_week",
        _mean_report(told.litres, told.in_litres, of_answers),
    )
    if litres.basis == "published factors":
        is_own = kg.basis == "own weighings"
        litres = replace(
            litres,
            kg_per_unit=density_kg_per_litre * kg.kg_per_unit,
            basis="own weighings in kg, published density" if is_own else "published factors",
        )
    return Calibration(kg, litres)


def _mean_report(amount: Numbers, told: Numbers, weights: Weights) -> Numbers:
    """Weighted mean of the reports in one unit, shape (1 + draws_count,); 0 without any."""
    total, count = (weights @ np.stack([amount, told], axis=1)).T
    return quotient(total, count)


def _own(own: pl.DataFrame, weights: Weights, unit: str, mean_report: Numbers) -> UnitCalibration:
    """Calibrate by the program's own pairs; by nothing where they are fewer than ten."""
    reported, weighed = own[unit].to_numpy(), own["weighed_kg_per_week"].to_numpy()
    count = int((reported > 0.0).sum())
    if count < LEAST_PAIRS:
        return UnitCalibration(np.zeros(0), "published factors", pairs_count=count)
    estimator = choose_estimator(reported, weighed)
    if estimator == "regression" and mean_report.min() > 0.0:
        intercept, slope = regression_rows(reported, weighed, weights)
        kg_per_unit = slope + intercept / mean_report
    else:
        estimator = "ratio"
        slope = kg_per_unit = np.asarray((weights @ weighed) / (weights @ reported))
        intercept = np.zeros_like(slope)
    varies = min(np.ptp(reported), np.ptp(weighed)) > 0.0
    correlation = float(np.corrcoef(reported, weighed)[0, 1]) if varies else 0.0
    return UnitCalibration(
        kg_per_unit,
        "own weighings",
        estimator,
        count,
        float(intercept[0]),
        float(slope[0]),
        correlation**2,
    )


@dataclass(frozen=True)
class WeeklyFeed:
    """Weighted sums over the answers of one survey round."""

    # shape (1 + draws_count,): share of the bins asked about that are in use
    in_use_share: Numbers
    # shape (1 + draws_count,): calibrated feed of an in-use bin [kg/week]
    kg_per_in_use_bin_week: Numbers


def weekly_feed(answers: pl.DataFrame, weights: Weights, calibration: Calibration) -> WeeklyFeed:
    """Estimate the week's feed of an in-use bin from one or several survey rounds.

    Weighted mean over in-use bins whose feed was answered; in-use bins without an answer
    on feed count as the mean of those with one.

    Parameters
    ----------
    answers
        Query followup_answers: is_in_use, fed_kg_last_week [kg], fed_litres_last_week
        [litres]; a row an answer.
    weights
        Shape (1 + draws_count, answers).

    Returns
    -------
    WeeklyFeed
        Feed is nan where no in-use bin has an answer on feed.
    """
    in_use = answers["is_in_use"].to_numpy().astype(float)
    told = reports_of(answers)
    kilograms = calibration.weighed_kg(weights, told)[:, 0]
    total, used, reporting = (
        weights @ np.stack([np.ones(in_use.size), in_use, told.in_kg + told.in_litres], axis=1)
    ).T
    return WeeklyFeed(used / total, quotient(kilograms, reporting, otherwise=np.nan))


def reports_of(answers: pl.DataFrame) -> Reports:
    """Take out what was reported.

    Parameters
    ----------
    answers
        is_in_use, fed_kg_last_week [kg], fed_litres_last_week [litres].
    """
    in_use = pl.col("is_in_use").cast(pl.Float64)
    kg, litres = pl.col("fed_kg_last_week"), pl.col("fed_litres_last_week")
    has_kg, has_litres = kg.is_not_null(), kg.is_null() & litres.is_not_null()
    parts = answers.select(
        kg=kg.fill_null(0.0) * in_use,
        litres=pl.when(has_litres).then(litres).otherwise(0.0) * in_use,
        in_kg=has_kg.cast(pl.Float64) * in_use,
        in_litres=has_litres.cast(pl.Float64) * in_use,
    )
    return Reports(*(parts[name].to_numpy() for name in ("kg", "litres", "in_kg", "in_litres")))
