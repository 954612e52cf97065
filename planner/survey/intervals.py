"""Intervals of estimates from a survey with a design."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special, stats

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

CONFIDENCE = 0.95


def t_quantile(degrees_of_freedom: Numbers | float, confidence: float = CONFIDENCE) -> Numbers:
    """Half-width of a two-sided t interval in standard errors; null without freedom.

    Examples
    --------
    >>> round(float(t_quantile(197.0)), 6)
    1.972079
    """
    freedom = np.asarray(degrees_of_freedom, dtype=float)
    safe = np.where(freedom > 0.0, freedom, 1.0)
    return np.where(freedom > 0.0, stats.t.ppf(0.5 + confidence / 2.0, safe), np.nan)


def t_interval(
    value: Numbers, standard_error: Numbers, degrees_of_freedom: Numbers
) -> tuple[Numbers, Numbers]:
    """Interval of a total, mean or ratio.

    Parameters
    ----------
    value, standard_error, degrees_of_freedom
        Of one shape.

    Examples
    --------
    >>> low, high = t_interval(np.array(5.0), np.array(0.0), np.array(10.0))
    >>> float(low), float(high)
    (5.0, 5.0)
    """
    reach = t_quantile(degrees_of_freedom) * standard_error
    return value - reach, value + reach


def logit_interval(
    share: Numbers, standard_error: Numbers, degrees_of_freedom: Numbers
) -> tuple[Numbers, Numbers]:
    """Interval of a share, symmetric on the logit scale and so within 0 and 1.

    Parameters
    ----------
    share, standard_error, degrees_of_freedom
        Of one shape. A share of 0 or 1 has no logit: its interval is null; see
        `korn_graubard_interval`.

    Examples
    --------
    >>> low, high = logit_interval(np.array(0.5), np.array(0.1), np.array(30.0))
    >>> round(float(low + high), 12)
    1.0
    """
    inside = (share > 0.0) & (share < 1.0)
    safe = np.where(inside, share, 0.5)
    reach = t_quantile(degrees_of_freedom) * standard_error / (safe * (1.0 - safe))
    low, high = (special.expit(special.logit(safe) + sign * reach) for sign in (-1.0, 1.0))
    return np.where(inside, low, np.nan), np.where(inside, high, np.nan)


def korn_graubard_interval(
    share: Numbers, standard_error: Numbers, degrees_of_freedom: Numbers, answers: Numbers
) -> tuple[Numbers, Numbers]:
    """Interval of a share that is near 0 or 1, or of which nobody was found.

    The exact binomial interval for the sample size that has the same standard error,
    never more than the answers there are.

    Parameters
    ----------
    share, standard_error, degrees_of_freedom, answers
        Of one shape; answers are counted, not weighted.

    Notes
    -----
    ``n* = min(n, p (1 - p) / se² (t_(n-1) / t_df)²)``, and n* = n where the standard error
    is 0; limits are quantiles of Beta(x, n* - x + 1) and Beta(x + 1, n* - x), x = n* p.

    References
    ----------
    Korn, E.L. and Graubard, B.I. (1998), Survey Methodology 24, 193-201. Parker, J.D. et
    al. (2017), National Center for Health Statistics, Vital and Health Statistics 2, 175.

    Examples
    --------
    >>> none = np.array(0.0), np.array(0.0), np.array(29.0), np.array(30.0)
    >>> low, high = korn_graubard_interval(*none)
    >>> float(low), round(float(high), 6)
    (0.0, 0.115703)
    """
    spread = share * (1.0 - share)
    has_error = (standard_error > 0.0) & (spread > 0.0)
    safe = np.where(has_error, standard_error, 1.0)
    ratio = t_quantile(answers - 1.0) / t_quantile(degrees_of_freedom)
    effective = np.where(has_error, spread / safe**2 * ratio**2, answers)
    size = np.minimum(answers, effective)
    events = size * share
    tail = (1.0 - CONFIDENCE) / 2.0
    tiny = np.finfo(float).tiny
    low = stats.beta.ppf(tail, np.maximum(events, tiny), size - events + 1.0)
    high = stats.beta.ppf(1.0 - tail, events + 1.0, np.maximum(size - events, tiny))
    return np.where(events > 0.0, low, 0.0), np.where(events < size, high, 1.0)
