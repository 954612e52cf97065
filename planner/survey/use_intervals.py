"""Ages between which bins stopped, from the store's query, and bounds for those silent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.interval_likelihood import Intervals
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_AGE_DAYS = 0.5
"""A bin that came back on the day of its hand-over was in use for half a day."""

Silent = Literal["all kept", "all stopped"]


def stopping_ages(households: pl.DataFrame) -> Intervals:
    """Take the ages of stopping as intervals (last in use, first out of use].

    Parameters
    ----------
    households
        Rows of query use_intervals: last_in_use_age_days, first_out_of_use_age_days
        [days], the latter null for a bin not known to be out of use; is_exact.

    Returns
    -------
    Intervals
        Shape (n,) [months].

    Examples
    --------
    >>> rows = pl.DataFrame(
    ...     {
    ...         "last_in_use_age_days": [0, 61],
    ...         "first_out_of_use_age_days": [61, None],
    ...         "is_exact": [False, False],
    ...     }
    ... )
    >>> stopping_ages(rows).upper.round(1).tolist()
    [2.0, inf]
    """
    exact = households["is_exact"].to_numpy()
    lower = households["last_in_use_age_days"].cast(pl.Float64).to_numpy()
    upper = households["first_out_of_use_age_days"].cast(pl.Float64).fill_null(np.inf).to_numpy()
    return Intervals(
        np.where(exact, np.maximum(lower, LEAST_AGE_DAYS), lower) / DAYS_PER_MONTH,
        np.where(exact, np.maximum(upper, LEAST_AGE_DAYS), upper) / DAYS_PER_MONTH,
    )


def filled_if(households: pl.DataFrame, silent: Silent) -> pl.DataFrame:
    """Fill in the households that did not answer, as if all had kept or all had stopped.

    Parameters
    ----------
    households
        Query use_intervals, those silent in their newest round (has_answered false) among
        them; asked_age_days is used too [days].
    silent
        "all kept": in use when asked. "all stopped": out of use by then, some time after
        they were last known to use it. What is known of them otherwise stays.
    """
    open_end = ~pl.col("has_answered") & pl.col("first_out_of_use_age_days").is_null()
    asked = pl.max_horizontal("asked_age_days", "last_in_use_age_days")
    if silent == "all kept":
        kept = pl.when(open_end).then(asked).otherwise("last_in_use_age_days")
        return households.with_columns(last_in_use_age_days=kept)
    later = pl.max_horizontal(asked, pl.col("last_in_use_age_days") + 1)
    stopped = pl.when(open_end).then(later).otherwise("first_out_of_use_age_days")
    return households.with_columns(first_out_of_use_age_days=stopped)


def base_weights(households: pl.DataFrame) -> NDArray[np.float64]:
    """One over the inclusion probability, shape (1, n): every household asked, silent or not."""
    return np.asarray(1.0 / households["inclusion_probability"].to_numpy())[None, :]


@dataclass(frozen=True)
class SilentBounds:
    """Share in use on the day asked, whatever those who did not answer do.

    Parameters
    ----------
    by_class
        A row a response class, sorted: response_class, asked_weight, answered_share,
        in_use_share of those who answered (null where none did), in_use_share_low,
        in_use_share_high.
    in_use_share_low, in_use_share_high
        Of all classes: those silent had all stopped, or all kept [share].
    """

    by_class: pl.DataFrame
    in_use_share_low: float
    in_use_share_high: float


def silent_bounds(
    response_class: pl.Series,
    inclusion_probability: pl.Series,
    has_answered: pl.Series,
    is_in_use: pl.Series,
) -> SilentBounds:
    """Bound the share in use without any assumption about those who did not answer.

    Parameters
    ----------
    response_class, inclusion_probability, has_answered, is_in_use
        A row a household asked; `is_in_use` is read of those who answered alone.

    Raises
    ------
    EstimateError
        Nobody was asked.

    References
    ----------
    Manski, C.F. (2003), Partial Identification of Probability Distributions, Springer,
    chapter 1. Cochran, W.G. (1977), Sampling Techniques, 3rd ed., section 13.2.

    Examples
    --------
    >>> told = silent_bounds(
    ...     pl.Series(["a"] * 4), pl.Series([0.5] * 4),
    ...     pl.Series([True, True, True, False]), pl.Series([True, True, False, None]),
    ... )
    >>> told.in_use_share_low, told.in_use_share_high
    (0.5, 0.75)
    """
    if has_answered.is_empty():
        message = "no household was asked in a follow-up round"
        raise EstimateError(message)
    weight = 1.0 / inclusion_probability
    rows = pl.DataFrame(
        {
            "response_class": response_class.cast(pl.String),
            "asked_weight": weight,
            "answered": weight * has_answered,
            "in_use": weight * (has_answered & is_in_use.fill_null(value=False)),
        }
    )
    sums = rows.group_by("response_class").sum().sort("response_class")
    told = pl.col("in_use") / pl.col("answered")
    by_class = sums.select(
        "response_class",
        "asked_weight",
        answered_share=pl.col("answered") / pl.col("asked_weight"),
        in_use_share=pl.when(pl.col("answered") > 0).then(told),
        in_use_share_low=pl.col("in_use") / pl.col("asked_weight"),
        in_use_share_high=1.0 - (pl.col("answered") - pl.col("in_use")) / pl.col("asked_weight"),
    )
    total = sums.select(pl.exclude("response_class").sum()).row(0, named=True)
    stopped = total["answered"] - total["in_use"]
    return SilentBounds(
        by_class,
        total["in_use"] / total["asked_weight"],
        1.0 - stopped / total["asked_weight"],
    )
