"""How many to ask: from the precision wanted to answers and invitations."""

from __future__ import annotations

import math

from planner.arrays import NORMAL_95
from planner.errors import EstimateError
from planner.messages import say

LEAST_KNOWN_SHARE = 0.5
"""Share at which a sample must be largest, as nothing is known beforehand."""

SPREAD = LEAST_KNOWN_SHARE * (1.0 - LEAST_KNOWN_SHARE)
"""Variance of one answer there."""


def answers_for_share(
    margin: float, population_count: float = math.inf, design_effect: float = 1.0
) -> float:
    """Answers with which a share is known to within a margin, 19 times in 20.

    Parameters
    ----------
    margin
        Half-width of the 95% interval [share].
    design_effect
        Variance over that of a simple random sample of the same size.

    Notes
    -----
    ``n0 = z² p (1 - p) / e²`` times the design effect, then ``n0 / (1 + (n0 - 1) / N)``.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, section 4.4.

    Examples
    --------
    >>> round(answers_for_share(0.05), 4), round(answers_for_share(0.05, 3200.0), 4)
    (384.1459, 343.0692)
    """
    endless = NORMAL_95 * NORMAL_95 * SPREAD / margin**2 * design_effect
    return endless / (1.0 + (endless - 1.0) / population_count)


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


def households_to_invite(answers: float, response_share: float) -> int:
    """Households to ask for so many answers, rounded up once.

    Raises
    ------
    EstimateError
        The share of them that answers is not above 0, up to 1.

    Examples
    --------
    >>> households_to_invite(answers_for_share(0.05, 3200.0, 1.5), 0.4)
    1222
    """
    if not 0.0 < response_share <= 1.0:
        raise EstimateError(say("estimate.no_response", share=str(response_share)))
    return math.ceil(round(answers / response_share, 9))


def margin_of_share(answers: float, population_count: float, design_effect: float = 1.0) -> float:
    """Half-width of the 95% interval of a share that so many answers give.

    Turns `answers_for_share` round; nothing is left to chance when all have answered.

    Examples
    --------
    >>> round(margin_of_share(answers_for_share(0.05, 3200.0), 3200.0), 9)
    0.05
    """
    if answers >= population_count:
        return 0.0
    if answers <= 0.0 or population_count <= 1.0:
        return 1.0
    endless = answers * (population_count - 1.0) / (population_count - answers)
    return NORMAL_95 * math.sqrt(design_effect * SPREAD / endless)


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
