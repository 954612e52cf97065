"""How many to ask: from the precision wanted to answers and invitations."""

from __future__ import annotations

import math
from dataclasses import dataclass

import scipy

from planner.errors import EstimateError
from planner.messages import say

LEAST_KNOWN_SHARE = 0.5
"""Share at which a sample must be largest; used where nothing is known beforehand."""


@dataclass(frozen=True)
class SampleSize:
    """Answers needed and households to ask for them."""

    answers: float  # answers needed, not rounded
    invitations: int  # households to ask, rounded up once, at the end


def normal_quantile(confidence: float) -> float:
    """Half-width of a two-sided normal interval, in standard errors.

    Examples
    --------
    >>> round(normal_quantile(0.95), 6)
    1.959964
    """
    return float(scipy.stats.norm.ppf(0.5 + confidence / 2.0))


def answers_for_share(
    margin: float, share: float = LEAST_KNOWN_SHARE, *, half_width: float | None = None
) -> float:
    """Answers that give a share to within a margin, from an endless population.

    Parameters
    ----------
    margin
        Half-width of the interval [share].
    half_width
        Half-width of the interval in standard errors; that of 95% unless said.

    Raises
    ------
    EstimateError
        The margin is not above 0 and below 1, or the share is not between 0 and 1.

    Notes
    -----
    ``n0 = z² p (1 - p) / e²``.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, section 4.4.

    Examples
    --------
    >>> round(answers_for_share(0.05), 4)
    384.1459
    """
    if not 0.0 < margin < 1.0 or not 0.0 <= share <= 1.0:
        raise EstimateError(say("estimate.no_margin", margin=str(margin), share=str(share)))
    z = normal_quantile(0.95) if half_width is None else half_width
    return z * z * share * (1.0 - share) / margin**2


def from_finite_share(answers: float, population_count: float) -> float:
    """Answers for a share when the population is finite.

    Notes
    -----
    ``n0 / (1 + (n0 - 1) / N)``, Cochran (1977), section 4.4.

    Examples
    --------
    >>> round(from_finite_share(400.0, 3200.0), 4)
    355.6543
    """
    return answers / (1.0 + (answers - 1.0) / population_count)


def cluster_design_effect(
    mean_size: float, correlation: float, size_variation: float = 0.0
) -> float:
    """Variance of a clustered sample over that of a simple one of the same size.

    Parameters
    ----------
    correlation
        Within clusters, from 0 (no more alike than others) to 1.
    size_variation
        Coefficient of variation of the sizes.

    Notes
    -----
    ``1 + ((cv² + 1) m - 1) rho``.

    References
    ----------
    Kish, L. (1965), Survey Sampling, section 5.4. Eldridge, S.M. et al. (2006),
    International Journal of Epidemiology 35, 1292-1300 (unequal sizes).

    Examples
    --------
    >>> round(cluster_design_effect(11.0, 0.05), 6)
    1.5
    """
    return 1.0 + ((size_variation**2 + 1.0) * mean_size - 1.0) * correlation


def size_for_share(
    margin: float,
    population_count: float,
    *,
    share: float = LEAST_KNOWN_SHARE,
    design_effect: float = 1.0,
    response_share: float = 1.0,
) -> SampleSize:
    """Households to ask so that a share is known to within a margin, 19 times in 20.

    The design effect comes first, then the finite population, then the response; the
    number is rounded once, at the end.

    Parameters
    ----------
    margin
        Half-width of the 95% interval [share].
    design_effect
        Variance over that of a simple random sample of the same size.

    Raises
    ------
    EstimateError
        A number is outside its range.

    Examples
    --------
    >>> size_for_share(0.05, 3200.0, design_effect=1.5, response_share=0.4).invitations
    1222
    """
    if not 0.0 < response_share <= 1.0:
        raise EstimateError(say("estimate.no_response", share=str(response_share)))
    endless = answers_for_share(margin, share) * design_effect
    answers = from_finite_share(endless, population_count)
    return SampleSize(answers, math.ceil(round(answers / response_share, 9)))


def margin_of_share(
    answers: float,
    population_count: float,
    *,
    share: float = LEAST_KNOWN_SHARE,
    design_effect: float = 1.0,
) -> float:
    """Half-width of the 95% interval of a share that so many answers give.

    Turns `size_for_share` round; nothing is left to chance when all have answered.

    Parameters
    ----------
    share, design_effect
        As in `size_for_share`.

    Examples
    --------
    >>> round(margin_of_share(size_for_share(0.05, 3200.0).answers, 3200.0), 9)
    0.05
    """
    if answers >= population_count:
        return 0.0
    if answers <= 0.0 or population_count <= 1.0:
        return 1.0
    endless = answers * (population_count - 1.0) / (population_count - answers)
    return normal_quantile(0.95) * math.sqrt(design_effect * share * (1.0 - share) / endless)


def share_to_ask_again(
    variance_ratio: float,
    asked_count: float,
    silent_share: float,
    population_count: float = math.inf,
) -> float:
    """Share of the silent that must answer when asked again, for a variance that is wanted.

    Parameters
    ----------
    variance_ratio
        Variance of the mean that is wanted, over that of one household.
    silent_share
        Share of them that gave no answer, above 0.

    Returns
    -------
    float
        At most 1, which all may fall short of.

    Notes
    -----
    With v the share, the variance over that of one household is
    ``(1 - n / N + W (1 - v) / v) / n``, W the share silent, where the silent differ among
    themselves as all do.

    References
    ----------
    Hansen, M.H. and Hurwitz, W.N. (1946), Journal of the American Statistical Association
    41, 517-529. Valliant, R., Dever, J.A. and Kreuter, F. (2018), Practical Tools for
    Designing and Weighting Survey Samples, 2nd ed., section 17.4.

    Examples
    --------
    >>> round(share_to_ask_again(0.01 / 9.0, 949.4, 0.3), 3)
    0.845
    """
    left = variance_ratio * asked_count - 1.0 + asked_count / population_count
    return min(1.0, silent_share / max(silent_share + left, 1e-12))
