"""Demand: how many households would take a bin by each round, group by group."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.tables import DWELLINGS
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    import polars as pl

    from planner.sizing.groups import Groups

LEAST_REGISTRATIONS = 30
"""Registrations of a year from which their timing is taken."""

MIDDLE_OF_MONTH = 0.5


def registered_share(
    registrations: pl.DataFrame, from_date: dt.date, halving_months: float
) -> Numbers:
    """Share of a year's registrations that are in by the end of each month, shape (13,).

    Parameters
    ----------
    registrations
        Query registrations_by_month over a year.
    halving_months
        Where fewer than 30 registered: months after which half of those still to come are
        in [months].

    Returns
    -------
    ndarray
        From 0 at the start to 1 at the end of the year.

    Examples
    --------
    >>> import datetime as dt, polars as pl
    >>> none = pl.DataFrame(schema={"registered_month": pl.Date, "registered_count": pl.Int64})
    >>> registered_share(none, dt.date(2026, 7, 1), 6.0)[[0, 6, 12]].round(3).tolist()
    [0.0, 0.667, 1.0]
    """
    by_month = np.zeros(MONTHS_PER_YEAR)
    for month, count in registrations.iter_rows():
        by_month[
            (month.year - from_date.year) * MONTHS_PER_YEAR + month.month - from_date.month
        ] = count
    if by_month.sum() < LEAST_REGISTRATIONS:
        left = np.exp2(-np.arange(MONTHS_PER_YEAR + 1) / halving_months)
        return np.asarray((1.0 - left) / (1.0 - left[-1]))
    return np.concatenate([[0.0], np.cumsum(by_month) / by_month.sum()])


def share_by_round(
    registered: Numbers, start: dt.date, handover_months: Sequence[dt.date]
) -> Numbers:
    """Share of the year's registrations that are in by the middle of each round's month.

    Parameters
    ----------
    registered
        Result of `registered_share`.
    handover_months
        First day of each round's month.
    """
    place = [
        (month.year - start.year) * MONTHS_PER_YEAR + month.month - start.month
        for month in handover_months
    ]
    ends = np.arange(MONTHS_PER_YEAR + 1)
    return np.interp(np.array(place) + MIDDLE_OF_MONTH, ends, registered)


def response_to_copayment(copayment: float, halving_copayment: Numbers) -> Numbers:
    """Share of those who would take a free bin that still do at a co-payment.

    Parameters
    ----------
    copayment
        What a household pays; less than nothing where it is set against a dearer year.
    halving_copayment
        Shape (draws,): co-payment at which half still do.

    Notes
    -----
    ``2^(−p / h)``: each further h halves what is left. The form is a judgement.

    Examples
    --------
    >>> response_to_copayment(20.0, np.array([20.0, 10.0])).tolist()
    [0.5, 0.25]
    """
    return np.asarray(np.exp2(-copayment / halving_copayment))


def take_up_share(draws: Mapping[str, Numbers]) -> Numbers:
    """Share of households without a registration that would take a bin, (draws, dwellings).

    Last year's take-up where it was learnt, else interest × doing over saying.
    """
    if f"take_up_share_{DWELLINGS[0]}" in draws:
        shares = np.stack([draws[f"take_up_share_{name}"] for name in DWELLINGS], axis=1)
        return np.asarray(shares * draws["take_up_next_year_ratio"][:, None])
    shares = np.stack([draws[f"interest_share_{name}"] for name in DWELLINGS], axis=1)
    return np.asarray(shares * draws["doing_over_saying_share"][:, None])


def demand_by_round(
    groups: Groups, take_up: Numbers, no_show_share: Numbers, registered_share_by_round: Numbers
) -> Numbers:
    """Households that would have taken a bin by each round, (draws, groups, rounds).

    Those who wait already are there from the first round on, but for those who no longer
    come; the others come as they register. Never more than the households without a bin.

    Parameters
    ----------
    take_up
        Shape (draws, dwellings).
    no_show_share
        Shape (draws,): of those who wait, share that does not come.
    registered_share_by_round
        Result of `share_by_round`.
    """
    new = groups.unregistered * np.clip(take_up, 0.0, 1.0)[:, groups.dwelling]
    waiting = groups.waiting * (1.0 - no_show_share[:, None])
    return np.asarray(waiting[:, :, None] + new[:, :, None] * registered_share_by_round)
