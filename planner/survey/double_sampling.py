"""Double sampling: many report, some are weighed; regression and ratio estimates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import stats

from planner.errors import EstimateError

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_PAIRS = 3
LEAST_PAIRS_FOR_REGRESSION = 30
"""With fewer pairs the regression's own bias, of order 1 / n, and one extreme report may
outweigh what it gains over the ratio."""

SURE = 0.975

Estimator = Literal["regression", "ratio"]


@dataclass(frozen=True)
class DoubleSample:
    """A mean from a large sample of reports and a small one of weighings.

    Parameters
    ----------
    mean, standard_error
        Of what weighing every unit of the population would have given.
    slope, intercept
        Weighed against reported; the intercept is 0 for a ratio.
    correlation_squared
        Of weighed and reported among the pairs.
    """

    mean: float
    standard_error: float
    slope: float
    intercept: float
    correlation_squared: float


def regression_estimate(
    all_reports: NDArray[np.float64],
    reported: NDArray[np.float64],
    weighed: NDArray[np.float64],
    population_count: float = np.inf,
) -> DoubleSample:
    """Regression estimate of double sampling, simple random samples of both phases.

    Parameters
    ----------
    all_reports
        Shape (n1,): reports of the first phase, those of the pairs among them.
    reported, weighed
        Shape (n2,): pairs of the second phase.
    population_count
        Units in the population; infinite for no correction.

    Raises
    ------
    EstimateError
        Fewer than three pairs, or all reports of the pairs are equal.

    Notes
    -----
    ``mean = y2 + b (x1 - x2)``, ``V = s_e² / n2 + (s_y² - s_e²) / n1 - s_y² / N`` with s_e² on
    n2 - 2. Where the first phase is the whole population this is
    ``(1/n2 - 1/N) s_e²``.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd ed., Wiley, section 12.6.
    """
    _refuse_few(reported)
    x, y = reported - reported.mean(), weighed - weighed.mean()
    slope = float(x @ y / (x @ x))
    left = y - slope * x
    residual_variance = float(left @ left) / (x.size - 2)
    variance = float(y @ y) / (x.size - 1)
    return DoubleSample(
        mean=float(weighed.mean() + slope * (all_reports.mean() - reported.mean())),
        standard_error=_error(residual_variance, variance, x.size, all_reports, population_count),
        slope=slope,
        intercept=float(weighed.mean() - slope * reported.mean()),
        correlation_squared=_correlation_squared(x, y),
    )


def ratio_estimate(
    all_reports: NDArray[np.float64],
    reported: NDArray[np.float64],
    weighed: NDArray[np.float64],
    population_count: float = np.inf,
) -> DoubleSample:
    """Ratio estimate of double sampling; parameters as in `regression_estimate`.

    Raises
    ------
    EstimateError
        Fewer than three pairs, or all reports of the pairs are equal or nothing.

    Notes
    -----
    ``mean = R x1`` with ``R = y2 / x2``, ``V = s_d² / n2 + (s_y² - s_d²) / n1 - s_y² / N`` with
    ``d = y - R x`` on n2 - 1.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd ed., Wiley, section 12.9.
    """
    _refuse_few(reported)
    ratio = float(weighed.sum() / reported.sum())
    left = weighed - ratio * reported
    y = weighed - weighed.mean()
    residual_variance = float(left @ left) / (left.size - 1)
    variance = float(y @ y) / (y.size - 1)
    return DoubleSample(
        mean=ratio * float(all_reports.mean()),
        standard_error=_error(
            residual_variance, variance, left.size, all_reports, population_count
        ),
        slope=ratio,
        intercept=0.0,
        correlation_squared=_correlation_squared(reported - reported.mean(), y),
    )


def choose_estimator(reported: NDArray[np.float64], weighed: NDArray[np.float64]) -> Estimator:
    """Say which estimate calibrates the reports: the ratio unless the pairs speak against it.

    The regression is used with thirty pairs or more whose line clearly misses the origin:
    its intercept is more than t(0.975) standard errors from 0, the standard error robust to
    a scatter that grows with the report (HC3). Otherwise the ratio, which through the
    origin is the better of the two where the scatter grows so.

    Parameters
    ----------
    reported, weighed
        Shape (n2,): pairs.

    References
    ----------
    Cochran (1977), sections 6.7 and 7.6 (when ratio, when regression). Long, J.S. and Ervin,
    L.H. (2000), American Statistician 54, 217-224 (HC3). Thirty pairs: common practice, no
    source.

    Examples
    --------
    >>> x = np.linspace(1.0, 5.0, 40)
    >>> wobble = 0.1 * np.sin(np.arange(40.0))
    >>> choose_estimator(x, 1.2 * x + wobble), choose_estimator(x, 1.2 * x + 2.0 + wobble)
    ('ratio', 'regression')
    """
    n = reported.size
    if n < LEAST_PAIRS_FOR_REGRESSION or np.ptp(reported) == 0.0:
        return "ratio"
    design = np.column_stack([np.ones(n), reported])
    inverse = np.linalg.inv(design.T @ design)
    coefficients = inverse @ (design.T @ weighed)
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    left = (weighed - design @ coefficients) / np.maximum(1.0 - leverage, 1e-9)
    spread = (inverse @ design.T) * left
    error = float(np.sqrt((spread[0] ** 2).sum()))
    clear = abs(float(coefficients[0])) > float(stats.t.ppf(SURE, n - 2)) * error
    return "regression" if clear else "ratio"


def regression_rows(
    reported: NDArray[np.float64], weighed: NDArray[np.float64], weights: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Weighted line of weighed on reported for every row of replicate weights.

    Parameters
    ----------
    reported, weighed
        Shape (n2,): pairs.
    weights
        Shape (1 + draws_count, n2).

    Returns
    -------
    tuple of ndarray
        Intercept and slope, each of shape (1 + draws_count,): a weighted mean of all
        reports x stands for ``intercept + slope × x``.

    Raises
    ------
    EstimateError
        Fewer than three pairs, or a replicate's reports are all equal.

    Examples
    --------
    >>> rows = regression_rows(np.arange(4.0), 1.0 + 2.0 * np.arange(4.0), np.ones((1, 4)))
    >>> [part.round(12).tolist() for part in rows]
    [[1.0], [2.0]]
    """
    _refuse_few(reported)
    total = weights.sum(axis=1)
    mean_x, mean_y = weights @ reported / total, weights @ weighed / total
    x = reported[None, :] - mean_x[:, None]
    squares = (weights * x**2).sum(axis=1)
    if np.any(squares <= 0.0):
        message = "the weighed households reported one and the same; no line goes through"
        raise EstimateError(message)
    slope = (weights * x * (weighed[None, :] - mean_y[:, None])).sum(axis=1) / squares
    return np.asarray(mean_y - slope * mean_x), np.asarray(slope)


def _refuse_few(reported: NDArray[np.float64]) -> None:
    if reported.size < LEAST_PAIRS or np.ptp(reported) == 0.0:
        message = (
            f"{reported.size} weighed households with reports, which must differ; calibration "
            f"needs {LEAST_PAIRS}"
        )
        raise EstimateError(message)


def _error(
    residual_variance: float,
    variance: float,
    pairs_count: int,
    all_reports: NDArray[np.float64],
    population_count: float,
) -> float:
    explained = (variance - residual_variance) / all_reports.size
    total = residual_variance / pairs_count + explained - variance / population_count
    return float(np.sqrt(max(total, 0.0)))


def _correlation_squared(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    product = float((x @ x) * (y @ y))
    return float(x @ y) ** 2 / product if product > 0.0 else 0.0
