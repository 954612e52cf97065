"""Totals, means, ratios, shares and quantiles by domain, with their design errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.survey.intervals import (
    korn_graubard_interval,
    logit_interval,
    t_interval,
    t_quantile,
)
from planner.survey.linearisation import (
    Design,
    calibration_residuals,
    covariance,
    domain_degrees_of_freedom,
    domain_variances,
    summed,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Codes = NDArray[np.int64]

_HAIR = 1e-12


@dataclass(frozen=True)
class Calibrated:
    """What the weights were calibrated to, for the variance.

    Parameters
    ----------
    known
        Shape (n, p): variables whose totals were met; for cells, one column a cell.
    base_weights
        Shape (n,): weights before calibration.
    """

    known: Numbers
    base_weights: Numbers


@dataclass(frozen=True)
class Sample:
    """Answers of a survey: their weights, how they were drawn and the domains.

    Parameters
    ----------
    weights
        Shape (n,).
    design
        How the rows were drawn.
    domain
        Shape (n,): domain of each row, numbered from 0; -1 for none.
    domains_count
        Domains.
    calibrated
        What the weights were calibrated to, if they were.
    """

    weights: Numbers
    design: Design
    domain: Codes
    domains_count: int
    calibrated: Calibrated | None = None

    @classmethod
    def whole(
        cls, weights: Numbers, design: Design, calibrated: Calibrated | None = None
    ) -> Sample:
        """Take all rows as one domain."""
        return cls(weights, design, np.zeros(weights.size, dtype=np.int64), 1, calibrated)

    def sums(self, values: Numbers) -> Numbers:
        """Weighted sums of the domains, shape (domains,) of values of shape (n,)."""
        inside = self.domain >= 0
        weighted = np.where(inside, self.weights * values, 0.0)
        place = np.where(inside, self.domain, 0)
        return summed(place, weighted, self.domains_count)

    def of_rows(self, by_domain: Numbers) -> Numbers:
        """Value of each row's own domain; 0 for rows of none."""
        return np.where(self.domain >= 0, by_domain[np.maximum(self.domain, 0)], 0.0)


@dataclass(frozen=True)
class Estimates:
    """Estimates of domains with their errors.

    Parameters
    ----------
    value, standard_error, low, high
        Shape (domains, variables); null in a domain without rows.
    degrees_of_freedom
        Shape (domains,).
    """

    value: Numbers
    standard_error: Numbers
    low: Numbers
    high: Numbers
    degrees_of_freedom: Numbers


def totals(values: Numbers, sample: Sample) -> Estimates:
    """Totals of each domain in the population.

    Parameters
    ----------
    values
        Shape (n, variables).
    sample
        Weights, design and domains.

    Examples
    --------
    >>> design = Design(np.array([0, 0]), np.array([0.0]))
    >>> found = totals(np.array([[1.0], [3.0]]), Sample.whole(np.ones(2), design))
    >>> found.value.tolist(), found.standard_error.tolist()
    ([[4.0]], [[2.0]])
    """
    value = np.column_stack([sample.sums(column) for column in values.T])
    return _estimates(value, values, sample)


def means(values: Numbers, sample: Sample) -> Estimates:
    """Means of each domain, weighted; shares where the values are 0 and 1.

    Parameters
    ----------
    values
        Shape (n, variables).
    sample
        Weights, design and domains.

    Notes
    -----
    Linearised variable ``(y - mean) / N``, N the estimated size of the domain.

    Examples
    --------
    >>> design = Design(np.array([0, 0]), np.array([0.0]))
    >>> means(np.array([[1.0], [3.0]]), Sample.whole(np.ones(2), design)).value.tolist()
    [[2.0]]
    """
    return ratios(values, np.ones_like(values), sample)


def ratios(numerators: Numbers, denominators: Numbers, sample: Sample) -> Estimates:
    """Ratios of two totals in each domain.

    Parameters
    ----------
    numerators, denominators
        Shape (n, variables).
    sample
        Weights, design and domains.

    Notes
    -----
    Linearised variable ``(y - R x) / X``, X the estimated total of x.

    Examples
    --------
    >>> design = Design(np.array([0, 0]), np.array([0.0]))
    >>> y, x = np.array([[1.0], [3.0]]), np.array([[2.0], [6.0]])
    >>> found = ratios(y, x, Sample.whole(np.ones(2), design))
    >>> found.value.tolist(), found.standard_error.tolist()
    ([[0.5]], [[0.0]])
    """
    value = np.empty((sample.domains_count, numerators.shape[1]))
    linearised = np.empty_like(numerators, dtype=float)
    for k in range(numerators.shape[1]):
        y, x = numerators[:, k], denominators[:, k]
        below = sample.sums(x)
        safe = np.where(below == 0.0, 1.0, below)
        ratio = sample.sums(y) / safe
        value[:, k] = np.where(below == 0.0, np.nan, ratio)
        linearised[:, k] = (y - sample.of_rows(ratio) * x) / np.where(
            sample.domain >= 0, safe[np.maximum(sample.domain, 0)], 1.0
        )
    return _estimates(value, linearised, sample)


def shares(values: Numbers, sample: Sample) -> Estimates:
    """Shares of those for whom something is so, with intervals on the logit scale.

    Where everyone or nobody is, the interval is that of Korn and Graubard.

    Parameters
    ----------
    values
        Shape (n, variables): 1 where it is so, 0 where not.
    sample
        Weights, design and domains.

    Examples
    --------
    >>> design = Design(np.array([0, 0, 0]), np.array([0.0]))
    >>> found = shares(np.ones((3, 1)), Sample.whole(np.ones(3), design))
    >>> found.value.tolist(), found.low.round(4).tolist()
    ([[1.0]], [[0.2924]])
    """
    found = means(values, sample)
    freedom = found.degrees_of_freedom[:, None]
    inside = sample.domain >= 0
    answers = np.bincount(sample.domain[inside], minlength=sample.domains_count)[:, None]
    share = np.clip(found.value, 0.0, 1.0)
    logit = logit_interval(share, found.standard_error, freedom)
    exact = korn_graubard_interval(share, found.standard_error, freedom, answers.astype(float))
    at_end = (share == 0.0) | (share == 1.0)
    low, high = (np.where(at_end, e, a) for e, a in zip(exact, logit, strict=True))
    return Estimates(found.value, found.standard_error, low, high, found.degrees_of_freedom)


def quantiles(values: Numbers, level: float, sample: Sample) -> Estimates:
    """Quantile of one variable in each domain, with Woodruff's interval.

    The smallest value at which the weighted share of those at or below reaches the level.

    Parameters
    ----------
    values
        Shape (n,).
    level
        Between 0 and 1; 0.5 for the median.
    sample
        Weights, design and domains.

    Returns
    -------
    Estimates
        One variable; the standard error is the interval's width over that of a t interval.

    References
    ----------
    Woodruff, R.S. (1952), Confidence intervals for medians and other position measures,
    Journal of the American Statistical Association 47, 635-646.

    Examples
    --------
    >>> design = Design(np.zeros(5, dtype=int), np.array([0.0]))
    >>> found = quantiles(np.arange(5.0), 0.5, Sample.whole(np.ones(5), design))
    >>> found.value.tolist()
    [[2.0]]
    """
    everywhere = np.full(sample.domains_count, level)
    value = _inverse_shares(values, everywhere, sample)
    # The quantile's own tie is counted in full, so the share may lie above the level.
    below = (values <= sample.of_rows(np.nan_to_num(value))).astype(np.float64)
    share = means(below[:, None], sample)
    freedom = share.degrees_of_freedom
    reach = t_quantile(freedom) * share.standard_error[:, 0]
    low = _inverse_shares(values, np.clip(level - reach, 0.0, 1.0), sample)
    high = _inverse_shares(values, np.clip(level + reach, 0.0, 1.0), sample)
    error = (high - low) / (2.0 * t_quantile(freedom))
    return Estimates(value[:, None], error[:, None], low[:, None], high[:, None], freedom)


def contrast(gradient: Numbers, values: Numbers, sample: Sample) -> tuple[float, float]:
    """Value and standard error of a sum of totals times given factors.

    Parameters
    ----------
    gradient
        Shape (variables,): factors; for a function of totals, its derivatives.
    values
        Shape (n, variables): for means and ratios, their linearised variables.
    sample
        Weights and design; its domains are not looked at.

    Examples
    --------
    >>> design = Design(np.array([0, 0]), np.array([0.0]))
    >>> sample = Sample.whole(np.ones(2), design)
    >>> contrast(np.array([1.0, -1.0]), np.array([[1.0, 2.0], [3.0, 4.0]]), sample)
    (-2.0, 0.0)
    """
    z = _weighted(values, sample)
    variance = float(gradient @ covariance(z, sample.design) @ gradient)
    return float(gradient @ (sample.weights @ values)), float(np.sqrt(max(variance, 0.0)))


def _estimates(value: Numbers, linearised: Numbers, sample: Sample) -> Estimates:
    """Errors and t intervals from linearised variables; domains without rows are null."""
    if sample.calibrated is None:
        z = sample.weights[:, None] * linearised
        variance = domain_variances(z, sample.domain, sample.domains_count, sample.design)
    else:
        variance = _calibrated_variances(linearised, sample)
    freedom = domain_degrees_of_freedom(sample.domain, sample.domains_count, sample.design).astype(
        float
    )
    is_empty = np.bincount(sample.domain[sample.domain >= 0], minlength=sample.domains_count) == 0
    value = np.where(is_empty[:, None], np.nan, value)
    error = np.where(is_empty[:, None], np.nan, np.sqrt(variance))
    return Estimates(value, error, *t_interval(value, error, freedom[:, None]), freedom)


def _calibrated_variances(linearised: Numbers, sample: Sample) -> Numbers:
    """Variances domain by domain: residuals reach beyond the domain that they come from."""
    variances = np.empty((sample.domains_count, linearised.shape[1]))
    for d in range(sample.domains_count):
        own = np.where((sample.domain == d)[:, None], linearised, 0.0)
        variances[d] = np.diag(covariance(_weighted(own, sample), sample.design))
    return variances


def _weighted(values: Numbers, sample: Sample) -> Numbers:
    """Weight times variable, or times its residual where weights were calibrated."""
    if sample.calibrated is not None:
        known = sample.calibrated
        values = calibration_residuals(values, known.known, known.base_weights)
    return np.asarray(sample.weights[:, None] * values)


def _inverse_shares(values: Numbers, level: Numbers, sample: Sample) -> Numbers:
    """Smallest value of each domain whose weighted share reaches its level."""
    rows = np.flatnonzero(sample.domain >= 0)
    if not rows.size:
        return np.full(sample.domains_count, np.nan)
    order = rows[np.lexsort((values[rows], sample.domain[rows]))]
    domain = sample.domain[order]
    cumulative = np.cumsum(sample.weights[order])
    size = np.bincount(domain, minlength=sample.domains_count)
    end = np.cumsum(size)
    before = np.concatenate([[0.0], cumulative])[end - size]
    whole = np.concatenate([[0.0], cumulative])[end] - before
    # A hair below the level, so that a share which equals it but for rounding counts.
    wanted = before + whole * level - _HAIR * cumulative[-1]
    place = np.clip(np.searchsorted(cumulative, wanted), end - size, np.maximum(end - 1, 0))
    return np.where(size > 0, values[order][np.minimum(place, order.size - 1)], np.nan)
