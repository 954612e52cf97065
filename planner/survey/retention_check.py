"""Whether the Weibull curve goes through what the answers alone say of retention."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.messages import paper

if TYPE_CHECKING:
    from planner.survey.retention import TownCurve
    from planner.survey.turnbull import Turnbull

BAND_MONTHS = 6.0
CRITICAL_PERCENT = 95.0
NEGLIGIBLE_GAP = 0.02
"""A gap of two points of the share in use is no misfit, however sure one is of it."""

WIDEST_UNKNOWN = 0.1
"""A band in which the answers leave more than this of the share open is not compared."""


@dataclass(frozen=True)
class CurveCheck:
    """Mean share in use over bands of age: Turnbull's curve against the Weibull curve."""

    # shape (bands,): upper ends of the bands compared, each six months wide [months]
    to_months: Numbers
    # shape (1 + draws_count, bands): between these the answers leave it open [share]
    turnbull_low: Numbers
    turnbull_high: Numbers
    # largest distance of the central Weibull share from Turnbull's bounds [share]
    greatest_gap: float
    statistic: float  # largest of these distances over its standard error
    # 95th percentile over the replicates of their own largest distance from the centre
    critical: float
    is_on_clock: bool = False  # whether ages are those on the clock of a season of giving up

    @property
    def is_negligible(self) -> bool:
        """Whether the gap is below two points: no misfit that matters."""
        return self.greatest_gap < NEGLIGIBLE_GAP

    @property
    def is_by_chance(self) -> bool:
        """Whether chance alone may bring the gap."""
        return self.statistic <= self.critical

    @property
    def sentence(self) -> str:
        """Say it in words; a gap of two points or more is never said to be none."""
        say = paper()
        if not self.to_months.size:
            return say.say("why.no_curve_check")
        found = "fits" if self.is_negligible else "by_chance" if self.is_by_chance else "strays"
        said = say.say(
            f"said.curve.{found}",
            points=say.number(100.0 * self.greatest_gap, 1),
            errors=say.number(self.statistic, 1),
            chance=say.number(self.critical, 1),
        )
        return f"{said} {say.say('said.curve.on_clock')}" if self.is_on_clock else said


def check_curve(turnbull: Turnbull, curve: TownCurve) -> CurveCheck:
    """Compare the mean share in use over each half-year of age.

    Means over a band are compared because Turnbull's curve at a single age converges too
    slowly for its replicates to show its error; areas under it do not. The statistic is the
    largest distance over its standard error over replicates. The curve is held to fit
    where that does not exceed the 95th percentile of the replicates' own largest distance
    about their centre, and is said to go through only where the gap is below two points.
    Bands that reach beyond the oldest age known, or that the answers leave open by more than
    ten points, are left out.

    Parameters
    ----------
    turnbull, curve
        Fitted to the same answers with the same rows of weights.

    References
    ----------
    Groeneboom, P. and Wellner, J.A. (1992), Information Bounds and Nonparametric Maximum
    Likelihood Estimation, chapter II.5 (points and areas). Westfall, P.H. and Young, S.S.
    (1993), Resampling-Based Multiple Testing, Wiley, chapter 2 (largest distance). The rules
    of two and ten points: common practice, no source.
    """
    oldest = turnbull.determined_ages().max(initial=0.0)
    ends = np.arange(0.0, oldest + 1e-9, BAND_MONTHS)
    means = [np.stack(turnbull.mean_bounds(float(end))) for end in ends]
    low, high = np.diff(np.stack(means, axis=-1), axis=-1) / BAND_MONTHS
    fitted = np.diff(curve.active_months(ends), axis=1) / BAND_MONTHS
    kept = high[0] - low[0] <= WIDEST_UNKNOWN
    low, high, fitted = low[:, kept], high[:, kept], fitted[:, kept]
    gap = fitted - (low + high) / 2.0
    outside = np.maximum(np.abs(gap[0]) - (high[0] - low[0]) / 2.0, 0.0)
    statistic, critical = _largest(gap, outside)
    return CurveCheck(
        ends[1:][kept], low, high, float(outside.max(initial=0.0)), statistic, critical
    )


def _largest(gap: Numbers, outside: Numbers) -> tuple[float, float]:
    """Largest distance over its standard error, and what chance brings."""
    away = np.abs(gap[1:] - gap[0])
    error = np.sqrt((away**2).sum(axis=0) / max(1, away.shape[0]))
    sure = error > 0.0
    if not sure.any():
        return 0.0, 0.0
    largest = (away[:, sure] / error[sure]).max(axis=1)
    return (
        float((outside[sure] / error[sure]).max()),
        float(np.percentile(largest, CRITICAL_PERCENT)),
    )
