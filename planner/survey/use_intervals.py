"""Ages between which bins stopped, from the store's query, and as if the silent had told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.survey.interval_likelihood import Intervals
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    pass

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
        Query use_intervals, those silent in their newest round (is_known false) among
        them; asked_age_days is used too [days].
    silent
        "all kept": in use when asked. "all stopped": out of use by then, some time after
        they were last known to use it. What is known of them otherwise stays.
    """
    open_end = ~pl.col("is_known") & pl.col("first_out_of_use_age_days").is_null()
    asked = pl.max_horizontal("asked_age_days", "last_in_use_age_days")
    if silent == "all kept":
        kept = pl.when(open_end).then(asked).otherwise("last_in_use_age_days")
        return households.with_columns(last_in_use_age_days=kept)
    later = pl.max_horizontal(asked, pl.col("last_in_use_age_days") + 1)
    stopped = pl.when(open_end).then(later).otherwise("first_out_of_use_age_days")
    return households.with_columns(first_out_of_use_age_days=stopped)
