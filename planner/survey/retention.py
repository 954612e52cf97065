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
"""Standard deviation of the belief that the logarithm of the shape lies near 0, where the
hazard is constant: shapes from a seventh to seven are all within two of it."""

BAND_MONTHS = 3
LEAST_ANSWERS_IN_BAND = 10
"""Fewer answers in a band of ages are not shown on their own."""

MOST_STEPS = 100
MOST_HALVINGS = 12
WORTH_TOLERANCE = 1e-12
STEP_TOLERANCE = 1e-5
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
    rng: np.random.Generator,
) -> Retention:
    """Fit a Weibull curve to whether bins of known age are in use, under survey weights.

    An answer tells only whether the bin is in use on that day (current status), so the
    likelihood is that of a binary regression with complementary log-log link on the
    logarithm of age, fitted to all replicates at once. Weights are scaled to add up to
    the number of answers. A belief worth one answer (half in use, half not, at the mean
    age, shape near 1) keeps the fit finite when all or none are in use, as Jeffreys' prior
    does for a share.

    Parameters
    ----------
    age_months
        Shape (n,): age of each bin on the day of the answer [months].
    is_in_use
        Shape (n,).
    weights
        Shape (1 + draws_count, n): replicate weights.
    rng
        Draws the belief anew for each replicate, so that answers that all agree still
        leave an interval.

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
    belief = np.full((weights.shape[0], 2), WEAK_ANSWERS / 2.0)
    belief[1:] = rng.gamma(WEAK_ANSWERS / 2.0, size=(weights.shape[0] - 1, 2))
    stopped[:, middle] += belief[:, 0]
    asked[:, middle] += belief.sum(axis=1)
    intercept, shape = complementary_log_log(np.log(ages), stopped, asked)
    return Retention(
        np.exp(-intercept / shape),
        shape,
        age_months.size,
        int((~is_in_use).sum()),
        float(age_months.max()),
    )


@dataclass(frozen=True)
class ObservedShares:
    """Plain weighted shares in use by band of age, to set beside the curve.

    Parameters
    ----------
    from_months, to_months
        Limits of each band [months].
    mean_months
        Mean age of its answers [months].
    in_use_share
        Shape (1 + draws_count, bands).
    answers_count
        Answers in each band.
    """

    from_months: tuple[int, ...]
    to_months: tuple[int, ...]
    mean_months: tuple[float, ...]
    in_use_share: NDArray[np.float64]
    answers_count: tuple[int, ...]


def observed_shares(
    age_months: NDArray[np.float64],
    is_in_use: NDArray[np.bool_],
    weights: NDArray[np.float64],
) -> ObservedShares:
    """Take the weighted share in use in each band of three months with ten answers or more.

    Parameters
    ----------
    age_months, is_in_use
        Shape (n,).
    weights
        Shape (1 + draws_count, n).

    Examples
    --------
    >>> age = np.full(10, 4.0)
    >>> bands = observed_shares(age, np.arange(10) < 8, np.ones((1, 10)))
    >>> bands.from_months, bands.in_use_share.tolist()
    ((3,), [[0.8]])
    """
    band = np.floor(np.maximum(age_months, 0.0) / BAND_MONTHS).astype(np.int64)
    bands, counts = np.unique(band, return_counts=True)
    chosen = bands[counts >= LEAST_ANSWERS_IN_BAND]
    member = (band[:, None] == chosen[None, :]) * 1.0
    share = (weights @ (member * is_in_use[:, None])) / (weights @ member)
    mean = (weights[0] * age_months) @ member / (weights[0] @ member)
    return ObservedShares(
        tuple(int(b) * BAND_MONTHS for b in chosen),
        tuple((int(b) + 1) * BAND_MONTHS for b in chosen),
        tuple(float(m) for m in mean),
        share,
        tuple(int(n) for n in member.sum(axis=0)),
    )


def complementary_log_log(
    x: NDArray[np.float64],
    stopped: NDArray[np.float64],
    asked: NDArray[np.float64],
    shape_spread: float = SHAPE_SPREAD,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Fit intercept and slope by damped Fisher scoring, all rows together.

    Parameters
    ----------
    x
        Shape (ages,): logarithm of age.
    stopped, asked
        Shape (draws, ages): weighted counts.
    shape_spread
        Standard deviation of the belief that the logarithm of the slope is near 0;
        infinite for none.

    Returns
    -------
    tuple of ndarray
        Intercept and slope (above 0), each of shape (draws,).
    """
    belief = 1.0 / shape_spread**2
    centre = float(np.average(x, weights=asked[0]))
    share = (stopped.sum(axis=1) / asked.sum(axis=1)).clip(0.01, 0.99)
    level, log_slope = np.log(-np.log1p(-share)), np.zeros(stopped.shape[0])
    worth = _worth(level, log_slope, x - centre, stopped, asked, belief)
    for _ in range(MOST_STEPS):
        step_level, step_slope = _scoring_step(level, log_slope, x - centre, stopped, asked, belief)
        if max(np.abs(step_level).max(), np.abs(step_slope).max()) < STEP_TOLERANCE:
            slope = np.exp(log_slope)
            return level - slope * centre, slope
        damping = np.ones_like(level)
        for _ in range(MOST_HALVINGS):
            tried = _worth(
                level + damping * step_level,
                log_slope + damping * step_slope,
                x - centre,
                stopped,
                asked,
                belief,
            )
            falls = tried < worth - WORTH_TOLERANCE * np.abs(worth)
            if not falls.any():
                break
            damping[falls] /= 2.0
        level, log_slope = level + damping * step_level, log_slope + damping * step_slope
        worth = tried
    message = "the retention curve does not settle on these answers; look at their dates and ages"
    raise EstimateError(message)


def _hazard(
    level: NDArray[np.float64], log_slope: NDArray[np.float64], x: NDArray[np.float64]
) -> NDArray[np.float64]:
    linear = level[:, None] + np.exp(log_slope)[:, None] * x
    return np.asarray(np.exp(linear.clip(-EXPONENT_LIMIT, np.log(EXPONENT_LIMIT))))


def _worth(
    level: NDArray[np.float64],
    log_slope: NDArray[np.float64],
    x: NDArray[np.float64],
    stopped: NDArray[np.float64],
    asked: NDArray[np.float64],
    belief: float,
) -> NDArray[np.float64]:
    """Logarithm of likelihood and belief, by row."""
    hazard = _hazard(level, log_slope, x)
    data = stopped * np.log(-np.expm1(-hazard)) - (asked - stopped) * hazard
    return np.asarray(data.sum(axis=1) - belief * log_slope**2 / 2.0)


def _scoring_step(
    level: NDArray[np.float64],
    log_slope: NDArray[np.float64],
    x: NDArray[np.float64],
    stopped: NDArray[np.float64],
    asked: NDArray[np.float64],
    belief: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """One Fisher scoring step in level and logarithm of slope, by row."""
    hazard = _hazard(level, log_slope, x)
    gone = -np.expm1(-hazard)
    # hazard / gone tends to 1 as the hazard vanishes; both are bounded away from 0 by the limit
    score = hazard * (stopped - asked * gone) / gone
    information = asked * hazard**2 * np.exp(-hazard) / gone
    along = np.exp(log_slope)[:, None] * x
    gradient_level = score.sum(axis=1)
    gradient_slope = (score * along).sum(axis=1) - belief * log_slope
    a = information.sum(axis=1)
    b = (information * along).sum(axis=1)
    c = (information * along**2).sum(axis=1) + belief
    # the slope enters as an exponential; where its own curvature steadies the step, count it
    c += np.maximum(-(score * along).sum(axis=1), 0.0)
    determinant = a * c - b * b
    step_level = (c * gradient_level - b * gradient_slope) / determinant
    step_slope = (a * gradient_slope - b * gradient_level) / determinant
    return (
        step_level.clip(-LARGEST_STEP, LARGEST_STEP),
        step_slope.clip(-LARGEST_STEP, LARGEST_STEP),
    )
