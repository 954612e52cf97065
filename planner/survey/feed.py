"""Feed: kilograms that an in-use bin takes a week, from reports and weighed diaries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_PAIRS = 10
"""Fewest diary households from which the program's own ratio is taken."""

Basis = Literal["own weighings", "own weighings in kg, published density", "published factors"]


@dataclass(frozen=True)
class Calibration:
    """What a reported kilogram and a reported litre weigh.

    Parameters
    ----------
    kg_per_reported_kg, kg_per_reported_litre
        Shape (1 + draws_count,).
    kg_basis, litre_basis
        What each rests on.
    kg_pairs_count, litre_pairs_count
        Diary households behind each.
    """

    kg_per_reported_kg: NDArray[np.float64]
    kg_per_reported_litre: NDArray[np.float64]
    kg_basis: Basis
    litre_basis: Basis
    kg_pairs_count: int
    litre_pairs_count: int


def calibrate(
    pairs: pl.DataFrame,
    weights: NDArray[np.float64],
    self_report_share: NDArray[np.float64],
    density_kg_per_litre: NDArray[np.float64],
) -> Calibration:
    """Set reports against weighings: ratio of weighed to reported, for each unit reported.

    Ratio estimate of double sampling. With at least ten diary households that reported
    in kilograms their ratio is used, otherwise the published share of self-reports that
    is confirmed by weighing. With at least ten that reported in litres their kilograms
    per litre are used, otherwise the published density times the ratio in kilograms. A
    report of nothing counts where something was weighed. The replicate weights are those
    of the survey round, so that the ratio moves with the reports that it sets right.

    Parameters
    ----------
    pairs
        Query diary_pairs: fed_kg_last_week [kg], fed_litres_last_week [litres],
        weighed_kg_per_week [kg/week].
    weights
        Shape (1 + draws_count, pairs).
    self_report_share, density_kg_per_litre
        Shape (1 + draws_count,): draws of the published factors [share], [kg/litre].

    Returns
    -------
    Calibration

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd ed., Wiley, section 12.9.
    """
    in_kg = pairs["fed_kg_last_week"].is_not_null()
    in_litres = ~in_kg & pairs["fed_litres_last_week"].is_not_null()
    kg_count = int((pairs["fed_kg_last_week"].filter(in_kg) > 0).sum())
    litre_count = int((pairs["fed_litres_last_week"].filter(in_litres) > 0).sum())
    kg_basis: Basis = "published factors"
    litre_basis: Basis = "published factors"
    kg_ratio = self_report_share
    if kg_count >= LEAST_PAIRS:
        kg_ratio = _ratio(pairs, weights, in_kg, "fed_kg_last_week")
        kg_basis, litre_basis = "own weighings", "own weighings in kg, published density"
    litre_ratio = density_kg_per_litre * kg_ratio
    if litre_count >= LEAST_PAIRS:
        litre_ratio = _ratio(pairs, weights, in_litres, "fed_litres_last_week")
        litre_basis = "own weighings"
    return Calibration(kg_ratio, litre_ratio, kg_basis, litre_basis, kg_count, litre_count)


def _ratio(
    pairs: pl.DataFrame, weights: NDArray[np.float64], chosen: pl.Series, reported: str
) -> NDArray[np.float64]:
    """Weighed over reported, of the pairs chosen."""
    own = pairs.filter(chosen)
    own_weights = weights[:, chosen.to_numpy()]
    weighed = own_weights @ own["weighed_kg_per_week"].to_numpy()
    return np.asarray(weighed / (own_weights @ own[reported].to_numpy()))


@dataclass(frozen=True)
class WeeklyFeed:
    """Weighted sums over the answers of one survey round.

    Parameters
    ----------
    in_use_share
        Shape (1 + draws_count,): share of the bins asked about that are in use.
    kg_per_in_use_bin_week
        Shape (1 + draws_count,): calibrated feed of an in-use bin [kg/week].
    """

    in_use_share: NDArray[np.float64]
    kg_per_in_use_bin_week: NDArray[np.float64]

    @property
    def kg_per_bin_given_week(self) -> NDArray[np.float64]:
        """Feed spread over all bins asked about, shape (1 + draws_count,) [kg/week]."""
        return self.in_use_share * self.kg_per_in_use_bin_week


def weekly_feed(
    answers: pl.DataFrame, weights: NDArray[np.float64], calibration: Calibration
) -> WeeklyFeed:
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
    calibration
        What reports weigh.

    Returns
    -------
    WeeklyFeed
        Feed is nan where no in-use bin has an answer on feed.
    """
    in_use = answers["is_in_use"].to_numpy().astype(float)
    kg, litres = reported(answers)
    has_feed = (
        answers["fed_kg_last_week"].is_not_null() | answers["fed_litres_last_week"].is_not_null()
    ).to_numpy() * in_use
    kilograms = calibration.kg_per_reported_kg * (weights @ kg)
    kilograms += calibration.kg_per_reported_litre * (weights @ litres)
    with np.errstate(invalid="ignore", divide="ignore"):
        per_bin = kilograms / (weights @ has_feed)
    return WeeklyFeed((weights @ in_use) / weights.sum(axis=1), per_bin)


def reported(answers: pl.DataFrame) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Feed reported by each answer, in kilograms or else in litres, nothing out of use.

    Parameters
    ----------
    answers
        is_in_use, fed_kg_last_week [kg], fed_litres_last_week [litres].

    Returns
    -------
    tuple of ndarray
        Kilograms and litres, each of shape (answers,); litres count where no kilograms
        are given, so that nothing is counted twice.
    """
    in_use = pl.col("is_in_use").cast(pl.Float64)
    kg, litres = pl.col("fed_kg_last_week"), pl.col("fed_litres_last_week")
    parts = answers.select(
        kg=kg.fill_null(0.0) * in_use,
        litres=pl.when(kg.is_null()).then(litres.fill_null(0.0)).otherwise(0.0) * in_use,
    )
    return parts["kg"].to_numpy(), parts["litres"].to_numpy()
