"""Retention: the share of bins still in use, by age since hand-over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError

if TYPE_CHECKING:
    from numpy.typing import NDArray

WEAK_ANSWERS = 1.0
"""Weight, in answers, of the half-and-half belief that keeps the fit finite."""

SHAPE_SPREAD = 1.0
"""Standard deviation of the belief that the shape lies near 1 (a constant hazard)."""

MOST_STEPS = 60
STEP_TOLERANCE = 1e-9
LARGEST_STEP = 1.5
EXPONENT_LIMIT = 30.0
"""Beyond it the complementary log-log is 0 or 1 to the last bit."""


@dataclass(frozen=True)
class Retention:
    """A fitted retention curve, with draws.

    Parameters
    ----------
    scale_months
        Shape (1 + draws_count,): age at which 37% (1/e) are still in use [months].
    shape
        Shape (1 + draws_count,): below 1 the hazard of stopping falls with age.
    answers_count, stopped_count
        Answers behind the fit, and those whose bin was out of use.
    oldest_months
        Oldest bin asked about; beyond it the curve is carried on [months].
    """

    scale_months: NDArray[np.float64]
    shape: NDArray[np.float64]
    answers_count: int
    stopped_count: int
    oldest_months: float

    def in_use_share(self, age_months: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share of bins in use at each age, shape (1 + draws_count, *ages).

        Examples
        --------
        >>> curve = Retention(np.array([24.0]), np.array([1.0]), 1, 1, 24.0)
        >>> curve.in_use_share(np.array([0.0, 24.0])).round(4).tolist()
        [[1.0, 0.3679]]
        """
        age = np.maximum(np.asarray(age_months, dtype=float), 0.0)
        spread = (slice(None), *([None] * age.ndim))
        return np.asarray(np.exp(-((age / self.scale_months[spread]) ** self.shape[spread])))


def fit_retention(
    age_months: NDArray[np.float64],
    is_in_use: NDArray[np.bool_],
    weights: NDArray[np.float64],
) -> Retention:
    """Fit a Weibull curve to whether bins of known age are in use, under survey weights.

    An answer tells only whether the bin is in use on that day (current status), so the
    likelihood is that of a binary regression with complementary log-log link on the
    logarithm of age, fitted to all replicates at once. Weights are scaled to add up to
    the number of answers. A belief worth one answer (half in use, half not, at the mean
    age, shape 1 give or take 1) keeps the fit finite when all or none are in use.

    Parameters
    ----------
    age_months
        Shape (n,): age of each bin on the day of the answer [months].
    is_in_use
        Shape (n,).
    weights
        Shape (1 + draws_count, n): replicate weights.

    Returns
    -------
    Retention

    Raises
    ------
    EstimateError
        There is no answer, or the fit does not settle.

    Notes
    -----
    ``S(a) = exp(-(a / scale)^shape)``, so ``log(-log S) = shape log a - shape log scale``.

    References
    ----------
    Kalbfleisch, J.D. and Prentice, R.L. (2002), The Statistical Analysis of Failure Time
    Data, 2nd ed., Wiley, chapters 2 and 3. McCullagh, P. and Nelder, J.A. (1989),
    Generalized Linear Models, 2nd ed., chapter 4 (complementary log-log).
    """
    if age_months.size == 0:
        message = "no follow-up answer says whether a bin is in use; load a follow-up round first"
        raise EstimateError(message)
    month = np.maximum(np.round(age_months), 0.5)
    ages, group = np.unique(month, return_inverse=True)
    member = np.eye(ages.size)[group]
    scaled = weights * (age_months.size / weights.sum(axis=1, keepdims=True))
    stopped = scaled @ (member * ~is_in_use[:, None])
    asked = scaled @ member
    middle = int(np.argmin(np.abs(ages - np.average(month, weights=weights[0]))))
    stopped[:, middle] += WEAK_ANSWERS / 2.0
    asked[:, middle] += WEAK_ANSWERS
    intercept, shape = complementary_log_log(np.log(ages), stopped, asked)
    return Retention(
        np.exp(-intercept / shape),
        shape,
        age_months.size,
        int((~is_in_use).sum()),
        float(age_months.max()),
    )


def complementary_log_log(
    x: NDArray[np.float64],
    stopped: NDArray[np.float64],
    asked: NDArray[np.float64],
    shape_spread: float = SHAPE_SPREAD,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Fit intercept and slope by Fisher scoring, all rows together.

    Parameters
    ----------
    x
        Shape (ages,): logarithm of age.
    stopped, asked
        Shape (draws, ages): weighted counts.
    shape_spread
        Standard deviation of the belief that the slope is near 1; infinite for none.
    """
    belief = 1.0 / shape_spread**2
    share = (stopped.sum(axis=1) / asked.sum(axis=1)).clip(0.01, 0.99)
    slope = np.ones(stopped.shape[0])
    centre = np.average(x, weights=asked[0])
    level = np.log(-np.log1p(-share))
    for _ in range(MOST_STEPS):
        linear = (level[:, None] + slope[:, None] * (x - centre)).clip(
            -EXPONENT_LIMIT, np.log(EXPONENT_LIMIT)
        )
        hazard = np.exp(linear)
        gone = -np.expm1(-hazard)
        derivative = hazard * np.exp(-hazard)
        score = derivative * (stopped - asked * gone) / (gone * (1.0 - gone))
        information = asked * derivative**2 / (gone * (1.0 - gone))
        gradient_level = score.sum(axis=1)
        gradient_slope = score @ (x - centre) - (slope - 1.0) * belief
        a = information.sum(axis=1)
        b = information @ (x - centre)
        c = information @ (x - centre) ** 2 + belief
        determinant = a * c - b * b
        step_level = (c * gradient_level - b * gradient_slope) / determinant
        step_slope = (a * gradient_slope - b * gradient_level) / determinant
        level += step_level.clip(-LARGEST_STEP, LARGEST_STEP)
        slope = np.maximum(slope + step_slope.clip(-LARGEST_STEP, LARGEST_STEP), 0.05)
        if max(np.abs(step_level).max(), np.abs(step_slope).max()) < STEP_TOLERANCE:
            return level - slope * centre, slope
    message = "the retention curve does not settle on these answers; look at their dates and ages"
    raise EstimateError(message)
