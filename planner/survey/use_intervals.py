"""Ages between which bins stopped, from the store's query, and as if the silent had told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from planner.arrays import Flags, Integers, Numbers, quotient
from planner.survey.interval_likelihood import Intervals
from planner.units import DAYS_PER_MONTH

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


@dataclass(frozen=True)
class KnownHazards:
    """How much of what happens to a town's bins up to some age or day the answers know.

    An estimate of these bins, not of bins in general, errs in the rest alone: its variance is
    one less `share` of the variance that replicates show.

    Notes
    -----
    Of bins in use at the end, estimated by one hazard: what is known weighs ``L``, the smaller of
    known and whole, and what has to be known ``M = L``, or ``L + exp(whole) - exp(L)`` of a bin
    still in use at ``L``. Relative variance in general ``sum w² L / (sum w L)²``, covariance with
    the town's own bins ``1 / sum w M``, to the second order in what is not known. Where all weigh
    1 / f and all is known, the share is f, the finite population correction of simple random
    sampling.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd ed., Wiley, section 2.6 (the correction).
    Valliant, R., Dorfman, A.H. and Royall, R.M. (2000), Finite Population Sampling and
    Inference: A Prediction Approach, Wiley, chapter 2 (only what was not observed is
    predicted). Both from memory.

    Examples
    --------
    >>> one = np.ones(4)
    >>> round(KnownHazards(0.3 * one, 0.3 * one, one > 2.0, 5.0 * one).share, 6)  # one in five
    0.2
    """

    # shape (n,): cumulative hazard of each household's bin up to the last age known of
    known: Numbers
    whole: Numbers  # shape (n,): the same up to the age or day that the figure is of
    has_stopped: Flags  # shape (n,): known to be out of use
    weights: Numbers  # shape (n,): households that each stands for

    @property
    def share(self) -> float:
        """Share known, 0 to 1; 0 where nothing could happen yet."""
        return float(self.shares(np.zeros(self.known.size, np.int64), 1)[0])

    def shares(self, part: Integers, parts_count: int) -> Numbers:
        """Share known of each part of the town, shape (parts,); 0 where nobody answered."""
        known = np.minimum(self.known, self.whole)
        is_open = ~self.has_stopped | (self.known > self.whole)
        # the last bins in use at great ages make it large, and the share small, as they should
        needed = known + is_open * (np.exp(self.whole) - np.exp(known))
        told, squared, all_of_it = (
            np.bincount(part, values, parts_count)
            for values in (
                self.weights * known,
                self.weights**2 * known,
                self.weights * needed,
            )
        )
        whole = squared * all_of_it
        share = quotient(told**2, whole)
        return np.asarray(np.minimum(share, 1.0))
