"""Who is asked: a draw that anyone can repeat, from permanent random numbers."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import EstimateError
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Mapping

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
    wanted = _wanted(sizes)
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


def _wanted(sizes: Mapping[str, int]) -> pl.DataFrame:
    columns = {"stratum": list(sizes), "size": list(sizes.values())}
    return pl.DataFrame(columns, schema={"stratum": pl.String, "size": pl.Int64})


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
