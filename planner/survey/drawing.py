"""Drawing: answers shared out among strata, and the households or streets drawn in each."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy

from planner.arrays import Integers, Numbers
from planner.errors import EstimateError
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


_HALVINGS = 200
_CLOSE = 1e-7


def share_out_whole(answers: int, priority: Numbers, least: Integers, most: Integers) -> Integers:
    """Best whole sizes between bounds, exactly.

    Every further answer goes where it lowers the variance most: the answers taken are
    those of greatest priority ``a_h / sqrt(k (k + 1))``, k being those already there.

    Parameters
    ----------
    priority
        Shape (strata,): what sizes are best proportional to, households times standard
        deviation (Neyman, J., 1934, Journal of the Royal Statistical Society 97, 558-625);
        households alone for proportional allocation.
    least, most
        Shape (strata,): bounds of the sizes; at least 1.

    Returns
    -------
    ndarray
        Shape (strata,), adding up to `answers`. Ties go to the earlier stratum.

    Raises
    ------
    EstimateError
        The bounds do not leave room for it.

    References
    ----------
    Wright, T. (2012), The equivalence of Neyman optimum allocation for sampling and equal
    proportions for apportioning the U.S. House of Representatives, American Statistician
    66, 217-224; and (2017), Statistics and Probability Letters 129, 50-57.

    Examples
    --------
    >>> one, many = np.array([1, 1]), np.array([90, 90])
    >>> share_out_whole(4, np.array([3.0, 1.0]), one, many).tolist()
    [3, 1]
    """
    if not least.sum() <= answers <= most.sum():
        bounds = {"least": str(least.sum()), "most": str(most.sum())}
        raise EstimateError(say("estimate.no_room", answers=str(answers), **bounds))

    def sizes(multiplier: float) -> Integers:
        """Sizes when every priority above 1 / multiplier has been taken."""
        reach = multiplier * priority
        whole = np.floor(0.5 + np.sqrt(0.25 + reach**2)).astype(np.int64)
        return np.clip(whole, least, most)

    low, high = 0.0, float((most.max() + 1.0) / priority[priority > 0.0].min(initial=np.inf))
    high = high if high > 0.0 else 1.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if sizes(middle).sum() <= answers else (low, middle)
    taken = sizes(low)
    # What halving cannot tell apart are ties, a few at most.
    for _ in range(answers - int(taken.sum())):
        gain = np.where(taken < most, priority / np.sqrt(taken * (taken + 1.0)), -1.0)
        taken[int(np.argmax(gain))] += 1
    return taken


def cheapest_for_targets(
    population_count: Numbers,
    standard_deviations: Numbers,
    totals: Numbers,
    relative_errors: Numbers,
    *,
    names: Sequence[str],
    least: Numbers,
    most: Numbers,
) -> Numbers:
    """Smallest sizes with which several totals all have the precision wanted.

    Parameters
    ----------
    population_count
        Shape (strata,): households.
    standard_deviations
        Shape (strata, targets): of each target's values.
    totals, relative_errors
        Shape (targets,): expected totals and the standard errors wanted over them.
    least, most
        Shape (strata,): smallest and largest sizes.

    Returns
    -------
    ndarray
        Shape (strata,): real-valued sizes; rounded up they still meet every target.

    Raises
    ------
    EstimateError
        No solution was found; the message names the target that is furthest off.

    Notes
    -----
    Least ``sum n_h`` with ``sum N_h² S_hj² / n_h <= (r_j T_j)² + sum N_h S_hj²`` for
    every target j, solved by its dual: ``n_h = sqrt(sum_j lambda_j N_h² S_hj²)`` cut
    at the bounds.

    References
    ----------
    Bethel, J. (1989), Survey Methodology 15, 47-57. Chromy, J.R. (1987), Proceedings of
    the Survey Research Methods Section, American Statistical Association, 194-199.

    Examples
    --------
    >>> n = cheapest_for_targets(
    ...     np.array([1e9]), np.array([[2.0]]), np.array([1e9]), np.array([0.1]),
    ...     names=["fed"], least=np.array([2.0]), most=np.array([1e9]))
    >>> round(float(n[0]), 3)
    400.0
    """
    allowed = (relative_errors * totals) ** 2 + population_count @ standard_deviations**2
    # A target without any spread is met by every allocation.
    safe = np.where(allowed > 0.0, allowed, 1.0)
    share = (population_count[:, None] * standard_deviations) ** 2 / safe
    # What each target alone would cost: with it as a scale the prices are near 1.
    scale = float((np.sqrt(share).sum(axis=0) ** 2).max())
    if scale == 0.0:
        return least

    def sizes(price: Numbers) -> Numbers:
        return np.clip(np.sqrt(share @ price * scale), least, most)

    def dual(price: Numbers) -> tuple[float, Numbers]:
        n = sizes(price)
        overrun = share.T @ (1.0 / n) - 1.0
        return -float(n.sum()) / scale - float(price @ overrun), -overrun

    start = np.full(totals.size, 1.0 / totals.size)
    found = scipy.optimize.minimize(
        dual,
        start,
        jac=True,
        method="SLSQP",
        bounds=[(0.0, None)] * totals.size,
        options={"ftol": 1e-15, "maxiter": 1000},
    )
    n = sizes(found.x)
    overrun = share.T @ (1.0 / n) - 1.0
    if overrun.max() > _CLOSE or np.any(np.abs(found.x * overrun) > _CLOSE):
        worst = names[int(np.argmax(np.abs(overrun)))]
        raise EstimateError(say("estimate.no_allocation", name=worst))
    return n


_BYTES, _RANGE = 8, 2.0**64


def permanent_random_number(seed_words: str, unit_id: str) -> float:
    """Random number of one household or cluster, the same on every machine and for ever.

    The first eight bytes of SHA-256 of ``seed_words|unit_id`` over 2⁶⁴; the query
    sampling_register makes them for a whole register.

    References
    ----------
    Ohlsson, E. (1995), Coordination of samples using permanent random numbers, in
    Business Survey Methods, Wiley. FIPS 180-4 (SHA-256).

    Examples
    --------
    >>> permanent_random_number("2025-wave1", "HH000001")
    0.5910149264569852
    """
    digest = hashlib.sha256(f"{seed_words}|{unit_id}".encode()).digest()
    return int.from_bytes(digest[:_BYTES], "big") / _RANGE


def draw_households(frame: pl.DataFrame, sizes: Mapping[str, int]) -> pl.DataFrame:
    """Draw households by simple random sampling within strata.

    Those of the smallest random numbers are drawn, so that the order of the rows does
    not matter and a larger sample holds the smaller one. Those who are resting because a
    draw by chance fell on them lately are passed over and counted: those left stand for
    them too.

    Parameters
    ----------
    frame
        One row a household: household_id, stratum, random_number, is_resting.
    sizes
        Households to draw by stratum; strata not named are not drawn from.

    Returns
    -------
    DataFrame
        household_id, stratum, random_number, inclusion_probability, in the order of
        stratum and random number.

    Raises
    ------
    EstimateError
        A stratum has fewer households that are not resting than are to be drawn.

    Notes
    -----
    What is left of a stratum after a simple random sample is one itself, so a draw of n
    from it is a simple random sample of all N: the inclusion probability is n / N, N with
    those who rest. This holds where the earlier draw had equal probabilities within the
    strata of this one.

    Examples
    --------
    >>> frame = pl.DataFrame({
    ...     "household_id": ["A", "B", "C", "D"], "stratum": ["s"] * 4,
    ...     "random_number": [0.4, 0.1, 0.9, 0.2],
    ...     "is_resting": [False, True, False, False]})
    >>> drawn = draw_households(frame, {"s": 2})
    >>> drawn["household_id"].to_list(), drawn["inclusion_probability"].to_list()
    (['D', 'A'], [0.5, 0.5])
    """
    columns = {"stratum": list(sizes), "size": list(sizes.values())}
    wanted = pl.DataFrame(columns, schema={"stratum": pl.String, "size": pl.Int64})
    counted = frame.join(wanted, on="stratum").with_columns(
        population=pl.len().over("stratum"),
        ready=(~pl.col("is_resting")).sum().over("stratum"),
    )
    _check_enough(counted.select("stratum", "size", "ready").unique(), wanted)
    return (
        counted.filter(~pl.col("is_resting"))
        .sort("stratum", "random_number", "household_id")
        .filter(pl.int_range(pl.len()).over("stratum") < pl.col("size"))
        .select(
            "household_id",
            "stratum",
            "random_number",
            inclusion_probability=pl.col("size") / pl.col("population"),
        )
    )


def draw_clusters(frame: pl.DataFrame, sizes: Mapping[str, int], seed_words: str) -> pl.DataFrame:
    """Draw whole streets or rounds within strata, and everyone in them.

    Parameters
    ----------
    frame
        One row a household: household_id, stratum, cluster_id, is_resting. A cluster lies
        in one stratum. Those resting are left out of a drawn cluster, not the cluster;
        calibration to the register lets the others stand for them.
    seed_words
        Begins the random numbers of the clusters.

    Returns
    -------
    DataFrame
        household_id, stratum, cluster_id, random_number (of the cluster),
        inclusion_probability.

    Raises
    ------
    EstimateError
        A stratum has fewer clusters than are to be drawn, or a cluster lies in two.

    Examples
    --------
    >>> frame = pl.DataFrame({
    ...     "household_id": ["A", "B", "C"], "stratum": ["s"] * 3,
    ...     "cluster_id": ["x", "x", "y"], "is_resting": [False] * 3})
    >>> draw_clusters(frame, {"s": 2}, "seed")["inclusion_probability"].to_list()
    [1.0, 1.0, 1.0]
    """
    clusters = frame.select("stratum", "cluster_id").unique().sort("stratum", "cluster_id")
    repeated = clusters.filter(pl.col("cluster_id").is_duplicated())
    if not repeated.is_empty():
        raise EstimateError(say("estimate.two_strata", cluster=repeated["cluster_id"][0]))
    numbers = [permanent_random_number(seed_words, name) for name in clusters["cluster_id"]]
    numbered = clusters.with_columns(
        household_id="cluster_id",
        random_number=pl.Series(numbers, dtype=pl.Float64),
        is_resting=pl.lit(value=False),
    )
    drawn = draw_households(numbered, sizes).select(
        "inclusion_probability", "random_number", cluster_id="household_id"
    )
    return (
        frame.filter(~pl.col("is_resting"))
        .join(drawn, on="cluster_id")
        .select("household_id", "stratum", "cluster_id", "random_number", "inclusion_probability")
        .sort("stratum", "random_number", "household_id")
    )


def _check_enough(found: pl.DataFrame, wanted: pl.DataFrame) -> None:
    short = (
        wanted.join(found.select("stratum", "ready"), on="stratum", how="left")
        .with_columns(pl.col("ready").fill_null(0))
        .filter(pl.col("size") > pl.col("ready"))
        .sort("stratum")
    )
    if short.is_empty():
        return
    stratum, size, ready = short.row(0)
    raise EstimateError(say("estimate.short", stratum=stratum, size=size, ready=ready))
