"""Beliefs: each uncertain number with its shape, where it comes from, and how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Numbers
from planner.factors.draws import SHAPES
from planner.messages import paper, said

if TYPE_CHECKING:
    from planner.factors import Factor

PERT_WEIGHT = 4.0
"""Weight of the mode over the limits in a PERT distribution (Malcolm et al. 1959)."""

TAILS = (0.025, 0.975)


@dataclass(frozen=True)
class Belief:
    """What is believed of one uncertain number."""

    # its id, what it is in plain words, and its unit
    name: str
    label: str
    unit: str
    driver: str  # inputs of one driver are varied together when it is asked what moves the result
    shape: str  # one of those of the factor tables, or ``pert`` or ``beta``
    value: float
    # limits of a uniform, triangular or PERT shape; 2.5 and 97.5 percentiles of others
    low: float
    high: float
    origin: str  # where it comes from, in words
    factor: Factor | None = None  # row of the factor tables behind it, where there is one
    # parameters of a beta shape
    alpha: float = 0.0
    beta: float = 0.0

    def quantile(self, probability: Numbers) -> Numbers:
        """Value below which lies `probability`, elementwise.

        Examples
        --------
        >>> belief = Belief("a", "", "", "", "pert", 0.5, 0.0, 1.0, "")
        >>> belief.quantile(np.array([0.5])).tolist()
        [0.5]
        """
        if self.low == self.high:
            return np.full_like(probability, self.value)
        if self.shape == "beta":
            return np.asarray(scipy.stats.beta.ppf(probability, self.alpha, self.beta))
        if self.shape == "pert":
            alpha, beta = pert_parameters(self.low, self.value, self.high)
            width = self.high - self.low
            return np.asarray(self.low + width * scipy.stats.beta.ppf(probability, alpha, beta))
        return SHAPES[self.shape](probability, self.value, self.low, self.high)


def label_of(name: str) -> str:
    """Say what an uncertain number is, in the language of papers."""
    return said(f"plan.belief.{name}")


def pert_parameters(low: float, mode: float, high: float) -> tuple[float, float]:
    """Parameters of the beta distribution that a PERT shape is on its limits.

    Notes
    -----
    ``α = 1 + 4 (m − a)/(b − a)``, ``β = 1 + 4 (b − m)/(b − a)``; the mean is
    ``(a + 4m + b)/6`` and the variance ``(μ − a)(b − μ)/7``.

    References
    ----------
    Malcolm, D. G., Roseboom, J. H., Clark, C. E. and Fazar, W. (1959), Application of a
    technique for research and development program evaluation, Operations Research 7,
    646-669. Vose, D. (2008), Risk Analysis, 3rd ed., Wiley.

    Examples
    --------
    >>> pert_parameters(0.0, 0.5, 1.0)
    (3.0, 3.0)
    """
    share = (mode - low) / (high - low)
    return 1.0 + PERT_WEIGHT * share, 1.0 + PERT_WEIGHT * (1.0 - share)


def beta_parameters(mean: float, variance: float) -> tuple[float, float]:
    """Parameters of the beta distribution with this mean and variance.

    Raises
    ------
    ValueError
        No beta distribution is so wide.

    Examples
    --------
    >>> beta_parameters(0.5, 1 / 12)  # even over 0 to 1
    (1.0, 1.0)
    """
    if not 0.0 < mean < 1.0 or not 0.0 < variance < mean * (1.0 - mean):
        message = f"no beta distribution has mean {mean} and variance {variance}"
        raise ValueError(message)
    size = mean * (1.0 - mean) / variance - 1.0
    alpha = mean * size
    return round(alpha, 12), round(size - alpha, 12)


def beta_belief(
    name: str, label: str, driver: str, parameters: tuple[float, float], origin: str
) -> Belief:
    """Believe a share with a beta distribution; its central value is the mean."""
    alpha, beta = parameters
    low, high = (float(x) for x in scipy.stats.beta.ppf(TAILS, alpha, beta))
    mean = alpha / (alpha + beta)
    return Belief(name, label, "share", driver, "beta", mean, low, high, origin, None, alpha, beta)


def factor_belief(name: str, driver: str, factor: Factor) -> Belief:
    """Believe what a row of the factor tables says."""
    low, high = factor.limits if factor.shape != "fixed" else (factor.value, factor.value)
    evidence = "assumed" if factor.evidence == "assumed" else "published"
    origin = said(f"plan.origin.{evidence}")
    return Belief(
        name,
        label_of(name),
        factor.unit,
        driver,
        factor.shape,
        factor.value,
        low,
        high,
        paper().say("number.labelled", label=origin, value=factor.place(paper())),
        factor,
    )


def moments(belief: Belief) -> tuple[float, float]:
    """Mean and variance of a belief's shape, by its quantiles at even steps."""
    steps = 4096
    values = belief.quantile((np.arange(steps) + 0.5) / steps)
    return float(values.mean()), float(values.var())
