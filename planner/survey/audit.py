"""Difference in differences of audited food, from change scores of few clusters."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import polars as pl
import scipy

from planner.arrays import Numbers
from planner.errors import EstimateError
from planner.messages import say

LEAST_CLUSTERS = 2
"""Fewer clusters in an arm have no standard error: with one treated cluster the test
rejects far too often."""

FEW_CLUSTERS = 6
CONFIDENCE = 0.95
POWER = 0.8


@dataclass(frozen=True)
class ChangeScores:
    """Change of each cluster that was audited before and after."""

    # shape (clusters of the arm,): after less before [kg per household and week]
    given: Numbers
    comparison: Numbers
    unmatched_count: int  # clusters without a visit on one of the two sides, which are left out

    @property
    def has_standard_error(self) -> bool:
        """Whether each arm has the clusters that a standard error needs."""
        return min(self.given.size, self.comparison.size) >= LEAST_CLUSTERS

    @property
    def is_few(self) -> bool:
        """Whether an arm has so few clusters that its standard error is itself doubtful."""
        return min(self.given.size, self.comparison.size) < FEW_CLUSTERS


def change_scores(visits: pl.DataFrame) -> ChangeScores:
    """Take each cluster's food per household after the giveaway less that before.

    Visits of one side are pooled: their food over their households. One score a cluster
    keeps what its visits share (Bertrand, Duflo and Mullainathan 2004); with one visit on
    each side the analysis is that of two-way fixed effects.

    Examples
    --------
    >>> visits = pl.DataFrame(
    ...     {
    ...         "arm": ["given", "given", "comparison"], "area_id": ["A"] * 3,
    ...         "cluster_id": ["1", "1", "2"], "period": ["before", "after", "before"],
    ...         "visit_number": [1, 1, 1], "households_count": [10, 8, 9],
    ...         "food_kg": [30.0, 20.0, 27.0],
    ...     }
    ... )
    >>> change_scores(visits)
    ChangeScores(given=array([-0.5]), comparison=array([], dtype=float64), unmatched_count=1)
    """
    return _scores(visits.with_columns(is_late=pl.col("period").cast(pl.String) == "after"))


def placebo_scores(visits: pl.DataFrame) -> ChangeScores:
    """Take the change over a time in which nothing was given: the last two visits before.

    Parameters
    ----------
    visits
        Query audit_changes. Where no cluster was visited twice before, no score is found.
    """
    early = visits.filter(
        (pl.col("period").cast(pl.String) == "before") & (pl.col("visit_number") <= 2)
    )
    return _scores(early.with_columns(is_late=pl.col("visit_number") == 1))


def _scores(visits: pl.DataFrame) -> ChangeScores:
    late = pl.col("is_late")
    food, households = pl.col("food_kg"), pl.col("households_count")
    clusters = (
        visits.group_by("arm", "area_id", "cluster_id")
        .agg(
            after=food.filter(late).sum() / households.filter(late).sum(),
            before=food.filter(~late).sum() / households.filter(~late).sum(),
            sides=late.n_unique(),
        )
        .sort("arm", "area_id", "cluster_id")
    )
    matched = clusters.filter(pl.col("sides") == 2).with_columns(
        change=pl.col("after") - pl.col("before")
    )
    by_arm = {
        arm: matched.filter(pl.col("arm").cast(pl.String) == arm)["change"].to_numpy()
        for arm in ("given", "comparison")
    }
    return ChangeScores(by_arm["given"], by_arm["comparison"], clusters.height - matched.height)


@dataclass(frozen=True)
class Difference:
    """Difference in differences with its uncertainty."""

    # mean change of the given arm less that of the comparison arm
    value: float
    standard_error: float
    degrees_of_freedom: float  # Satterthwaite's, for equal variance of the clusters
    # limits of the 95% interval
    low: float
    high: float
    p_value: float  # of no difference, two-sided, from Student's t
    # smallest true difference that this audit would have found significant in four of five
    # repetitions
    detectable: float


def difference(scores: ChangeScores) -> Difference:
    """Estimate the difference in differences with a standard error robust to the arms.

    Raises
    ------
    EstimateError
        An arm has fewer than two clusters.

    Notes
    -----
    ``SE² = s²_given / n_given + s²_comparison / n_comparison``: Welch's, which is HC2 of the
    regression on the arm and, for a panel with one visit on each side, CR2 of two-way fixed
    effects. Degrees of freedom after Bell and McCaffrey,
    ``(1/n₁ + 1/n₀)² / (1/(n₁²(n₁-1)) + 1/(n₀²(n₀-1)))``, not those of Welch, which lean on
    the variances of few clusters. Detectable: ``(t_{0.975} + t_{0.8}) SE``.

    References
    ----------
    Bell, R.M. and McCaffrey, D.F. (2002), Survey Methodology 28, 169-181. Pustejovsky, J.E.
    and Tipton, E. (2018), Journal of Business and Economic Statistics 36, 672-683. Bloom,
    H.S. (1995), Evaluation Review 19, 547-556 (smallest effect detectable).

    Examples
    --------
    >>> found = difference(ChangeScores(np.array([-2.0, 0.0]), np.array([0.0, 2.0]), 0))
    >>> found.value, round(found.standard_error, 6), found.degrees_of_freedom
    (-2.0, 1.414214, 2.0)
    """
    if not scores.has_standard_error:
        counts = {"given": scores.given.size, "comparison": scores.comparison.size}
        raise EstimateError(say("estimate.audits.few", least=LEAST_CLUSTERS, **counts))
    sizes = np.array([scores.given.size, scores.comparison.size], dtype=float)
    variances = np.array([scores.given.var(ddof=1), scores.comparison.var(ddof=1)])
    value = float(scores.given.mean() - scores.comparison.mean())
    error = float(np.sqrt((variances / sizes).sum()))
    freedom = float((1.0 / sizes).sum() ** 2 / (1.0 / (sizes**2 * (sizes - 1.0))).sum())
    student = scipy.stats.t(freedom)
    reach = float(student.ppf((1.0 + CONFIDENCE) / 2.0))
    p_value = 2.0 * float(student.sf(abs(value) / error)) if error > 0.0 else float(value == 0.0)
    return Difference(
        value=value,
        standard_error=error,
        degrees_of_freedom=freedom,
        low=value - reach * error,
        high=value + reach * error,
        p_value=p_value,
        detectable=(reach + float(student.ppf(POWER))) * error,
    )


def difference_draws(found: Difference, draws_count: int, rng: np.random.Generator) -> Numbers:
    """Draw the difference from Student's t about its value, shape (1 + draws_count,).

    The audit saw other households than the survey, so its draws are independent of those.
    The draws are the quantiles of the distribution in random order, so that their interval
    is the stated one.
    """
    chance = (np.arange(draws_count) + 0.5) / draws_count
    drawn = rng.permutation(scipy.stats.t.ppf(chance, found.degrees_of_freedom))
    return np.asarray(np.r_[found.value, found.value + found.standard_error * drawn])


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
