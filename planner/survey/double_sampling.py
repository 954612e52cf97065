"""Double sampling: how those weighed too set right what all report, by a ratio or a line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import scipy

from planner.arrays import Numbers
from planner.errors import EstimateError
from planner.messages import say

if TYPE_CHECKING:
    from planner.survey.row_weights import Weights


FEWEST_PAIRS = 3
LEAST_PAIRS_FOR_REGRESSION = 30
"""With fewer pairs the regression's own bias, of order 1 / n, and one extreme report may
outweigh what it gains over the ratio."""

SURE = 0.975
NOTHING = 1e-12
"""Of the squares about another point: what rounding leaves of squares that are 0."""

Estimator = Literal["regression", "ratio"]


def choose_estimator(reported: Numbers, weighed: Numbers) -> Estimator:
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
    clear = abs(float(coefficients[0])) > float(scipy.stats.t.ppf(SURE, n - 2)) * error
    return "regression" if clear else "ratio"


def regression_rows(
    reported: Numbers, weighed: Numbers, weights: Weights
) -> tuple[Numbers, Numbers]:
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
    if reported.size < FEWEST_PAIRS or np.ptp(reported) == 0.0:
        counts = {"count": reported.size, "least": FEWEST_PAIRS}
        raise EstimateError(say("estimate.few_reports", **counts))
    # about the plain means, so that little is lost where squares are taken off each other
    about_x, about_y = reported.mean(), weighed.mean()
    x, y = reported - about_x, weighed - about_y
    total, of_x, of_y, of_xx, of_xy = (
        weights @ np.column_stack([np.ones(x.size), x, y, x**2, x * y])
    ).T
    squares = of_xx - of_x**2 / total
    if np.any(squares <= NOTHING * of_xx):
        raise EstimateError(say("estimate.one_report"))
    slope = (of_xy - of_x * of_y / total) / squares
    intercept = about_y + of_y / total - slope * (about_x + of_x / total)
    return np.asarray(intercept), np.asarray(slope)
