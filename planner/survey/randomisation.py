"""Tests for few clusters that lean on no distribution: exact splits, enumerated signs."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from planner.arrays import Numbers
from planner.errors import EstimateError
from planner.messages import say
from planner.survey.audit import LEAST_CLUSTERS, ChangeScores

MOST_ENUMERATED = 200_000
"""More splits or signs than this are not listed but drawn."""

DRAWN = 99_999
"""Splits or signs drawn then; the observed one counts as one more."""

TIE = 1e-9
"""Statistics this close, relatively, are equal: they differ by the order of summing only."""

SIGNS_AT_ONCE = 20_000


@dataclass(frozen=True)
class ExactTest:
    """A p-value and how it was found."""

    p_value: float  # share of splits or signs at least as far from no difference; ties count
    count: int  # splits or signs looked at
    is_enumerated: bool  # all of them were, so the p-value has no error of chance


def randomisation_test(scores: ChangeScores, rng: np.random.Generator) -> ExactTest:
    """Ask how often another allotment of the clusters to the arms differs as much.

    Every split into arms of these sizes is looked at, or 99,999 drawn at random and the
    observed one where there are more than 200,000. Exact for the hypothesis that no
    cluster changed because of its arm.

    Parameters
    ----------
    rng
        Used where splits are drawn.

    Raises
    ------
    EstimateError
        An arm has no cluster.

    References
    ----------
    Fisher, R.A. (1935), The Design of Experiments, chapter 3. Phipson, B. and Smyth, G.K.
    (2010), Statistical Applications in Genetics and Molecular Biology 9, 39 (drawn splits).

    Examples
    --------
    >>> scores = ChangeScores(np.array([-3.0, -2.0]), np.array([1.0, 2.0]), 0)
    >>> randomisation_test(scores, np.random.default_rng(1))
    ExactTest(p_value=0.3333333333333333, count=6, is_enumerated=True)
    """
    n, total = scores.given.size, scores.given.size + scores.comparison.size
    if min(n, total - n) == 0:
        raise EstimateError(say("estimate.audits.none"))
    pooled = np.r_[scores.given, scores.comparison]
    pooled = pooled - pooled.mean()
    # about the common mean, the difference of means is the given arm's sum times a constant
    observed = abs(pooled[:n].sum())
    splits_count = math.comb(total, n)
    is_enumerated = splits_count <= MOST_ENUMERATED
    if is_enumerated:
        listed = itertools.chain.from_iterable(itertools.combinations(range(total), n))
        chosen = np.fromiter(listed, dtype=np.int64, count=splits_count * n).reshape(-1, n)
    else:
        chosen = rng.permuted(np.tile(np.arange(total), (DRAWN, 1)), axis=1)[:, :n]
    as_far = int((np.abs(pooled[chosen].sum(axis=1)) >= observed - TIE * (observed + TIE)).sum())
    return _counted(as_far, len(chosen), is_enumerated=is_enumerated)


def wild_bootstrap_test(scores: ChangeScores, rng: np.random.Generator) -> ExactTest:
    """Turn the signs of residuals under no difference, cluster by cluster.

    The null is imposed: residuals are those about the common mean. Every vector of signs
    is looked at, or 99,999 drawn where there are more than 200,000; the statistic is t with
    the standard error of `difference`.

    Parameters
    ----------
    rng
        Used where signs are drawn.

    Raises
    ------
    EstimateError
        An arm has fewer than two clusters.

    References
    ----------
    Cameron, A.C., Gelbach, J.B. and Miller, D.L. (2008), Review of Economics and Statistics
    90, 414-427. MacKinnon, J.G. and Webb, M.D. (2018), Econometrics Journal 21, 114-135.
    """
    if not scores.has_standard_error:
        raise EstimateError(say("estimate.audits.signs", least=LEAST_CLUSTERS))
    n, total = scores.given.size, scores.given.size + scores.comparison.size
    pooled = np.r_[scores.given, scores.comparison]
    residual = pooled - pooled.mean()
    observed = float(_squared_t(residual[None, :], n)[0])
    is_enumerated = 2**total <= MOST_ENUMERATED
    count = 2**total if is_enumerated else DRAWN
    as_far = 0
    for start in range(0, count, SIGNS_AT_ONCE):
        rows = min(SIGNS_AT_ONCE, count - start)
        if is_enumerated:
            bits = (start + np.arange(rows))[:, None] >> np.arange(total)
        else:
            bits = rng.integers(0, 2, (rows, total))
        signed = (1.0 - 2.0 * (bits & 1)) * residual
        as_far += int((_squared_t(signed, n) >= observed * (1.0 - TIE)).sum())
    return _counted(as_far, count, is_enumerated=is_enumerated)


def _squared_t(scores: Numbers, n: int) -> Numbers:
    """Squared difference of means over its squared standard error, by row."""
    given, comparison = scores[:, :n], scores[:, n:]
    gap = given.mean(axis=1) - comparison.mean(axis=1)
    variance = given.var(axis=1, ddof=1) / n + comparison.var(axis=1, ddof=1) / comparison.shape[1]
    return np.asarray(gap**2 / np.maximum(variance, TIE**2 * (gap**2 + TIE)))


def _counted(as_far: int, count: int, *, is_enumerated: bool) -> ExactTest:
    if is_enumerated:
        return ExactTest(as_far / count, count, is_enumerated)
    return ExactTest((as_far + 1) / (count + 1), count, is_enumerated)
