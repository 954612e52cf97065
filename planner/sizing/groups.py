"""Groups: households by area and dwelling, those registered and served, and their size."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Flags, Integers, Numbers, places_of, quotient
from planner.diversion.cohorts import months_between
from planner.errors import EstimateError
from planner.messages import say
from planner.tables import DWELLINGS
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence


LEAST_REGISTERED = 30
"""Registered households from which the mean size of a dwelling's households is taken."""


@dataclass(frozen=True)
class Groups:
    """Groups of households in a fixed order, each of shape (groups,) unless said."""

    # areas in order; their places stand in `area`
    area_ids: tuple[str, ...]
    area_names: tuple[str, ...]
    # place of the area, and of the dwelling in tables.DWELLINGS
    area: Integers
    dwelling: Integers
    # what the area is
    is_priority: Flags
    has_food_collection: Flags
    # counts of households, up to the day before the plan
    households: Numbers
    registered: Numbers
    registered_in_year: Numbers
    served: Numbers
    people: Numbers  # mean people in a household

    @property
    def count(self) -> int:
        """Number of groups."""
        return self.area.size

    @property
    def waiting(self) -> Numbers:
        """Households that registered and have no bin yet."""
        return np.maximum(0.0, self.registered - self.served)

    @property
    def unregistered(self) -> Numbers:
        """Households that have not registered yet."""
        return np.maximum(0.0, self.households - self.registered)

    @cached_property
    def labels(self) -> tuple[str, ...]:
        """Area and dwelling of each group, as NORTH/house."""
        pairs = zip(self.area, self.dwelling, strict=True)
        return tuple(f"{self.area_ids[a]}/{DWELLINGS[k]}" for a, k in pairs)

    def by_dwelling(self, values: Numbers) -> Numbers:
        """Sum over the groups of each dwelling, shape (dwellings,)."""
        sums = np.zeros(len(DWELLINGS))
        np.add.at(sums, self.dwelling, values)
        return sums

    def with_waiting_spread(self, least: int) -> Groups:
        """Spread the waiting of groups in which few wait over their households.

        A plan prints bins by group, and where the waiting list binds these are counts of those
        who wait. So groups in which fewer than `least` wait are taken together, with the next
        larger ones until as many wait in all, each with the same share of its households; what
        a reader works back to is that sum. Where fewer wait in the whole program, none do.

        Parameters
        ----------
        least
            The program file's small_cell_threshold.

        Examples
        --------
        >>> few = Groups(
        ...     ("A",), ("A",), np.zeros(3, int), np.arange(3), np.zeros(3, bool),
        ...     np.zeros(3, bool), np.array([60.0, 20.0, 200.0]), np.array([5.0, 7.0, 40.0]),
        ...     np.zeros(3), np.zeros(3), np.ones(3),
        ... )
        >>> few.with_waiting_spread(10).waiting.tolist()
        [9.0, 3.0, 40.0]
        """
        waiting = self.waiting
        order = np.argsort(waiting, kind="stable")
        order = order[waiting[order] > 0.0]
        if not order.size or waiting[order[0]] >= least:
            return self
        together = np.cumsum(waiting[order])
        few_count = int((waiting[order] < least).sum())
        count = max(few_count, 1 + int(np.searchsorted(together, least)))
        pooled = order[:count]
        households = np.maximum(self.households[pooled], 1.0)
        total = together[-1] if count >= order.size else together[count - 1]
        share = total / households.sum() if total >= least else 0.0
        registered = self.registered.copy()
        registered[pooled] = self.served[pooled] + share * households
        return replace(self, registered=registered)

    def mean_people_by_dwelling(self) -> Numbers:
        """Mean people in a household of each dwelling, shape (dwellings,); 1 where none."""
        households = self.by_dwelling(self.households)
        people = self.by_dwelling(self.households * self.people)
        return quotient(people, households, otherwise=1.0)


def groups_of(
    rows: pl.DataFrame, size_ratio: Mapping[str, float], reference_people: float
) -> Groups:
    """Arrange the counted households as groups.

    Parameters
    ----------
    size_ratio
        People in a household of each dwelling over the area's mean, used until 30 of a
        dwelling have registered.
    reference_people
        People in a household where an area's residents are not known.

    Raises
    ------
    EstimateError
        No area has a household.
    """
    kept = rows.filter(
        (pl.col("households_count") > 0) | (pl.col("registered_count") > 0)
    ).with_columns(pl.col("dwelling").cast(pl.String))
    if kept.is_empty():
        raise EstimateError(say("plan.fail.no_area"))
    areas = kept.select("area_id", "area_name").unique(maintain_order=True)
    ratio = _size_ratio(kept, size_ratio)
    sized = _with_people(kept, ratio, reference_people)

    def counts(column: str) -> Numbers:
        return kept[column].to_numpy().astype(float)

    return Groups(
        area_ids=tuple(areas["area_id"]),
        area_names=tuple(areas["area_name"]),
        area=places_of(kept["area_id"], areas["area_id"]),
        dwelling=places_of(kept["dwelling"], DWELLINGS),
        is_priority=kept["is_priority"].to_numpy(),
        has_food_collection=(
            kept["kerbside_service"].cast(pl.String) == "food_and_garden_organics"
        ).to_numpy(),
        households=counts("households_count"),
        registered=counts("registered_count"),
        registered_in_year=counts("registered_in_year_count"),
        served=counts("served_count"),
        people=sized["people"].to_numpy(),
    )


def _size_ratio(kept: pl.DataFrame, stated: Mapping[str, float]) -> dict[str, float]:
    """Mean people of registered households of each dwelling, where enough registered."""
    counted = kept.group_by("dwelling").agg(
        pl.col("registered_count").sum(), pl.col("registered_people_count").sum()
    )
    known = {
        dwelling: people / registered
        for dwelling, registered, people in counted.iter_rows()
        if registered >= LEAST_REGISTERED
    }
    return known if set(known) >= set(counted["dwelling"]) else dict(stated)


def _with_people(
    kept: pl.DataFrame, ratio: Mapping[str, float], reference_people: float
) -> pl.DataFrame:
    """Mean people of each group, so that an area's residents add up."""
    weight = pl.col("dwelling").replace_strict(dict(ratio), return_dtype=pl.Float64)
    households = pl.col("households_count").cast(pl.Float64)
    residents = (
        pl.when(pl.col("area_residents_count") > 0)
        .then(pl.col("area_residents_count").cast(pl.Float64))
        .otherwise(reference_people * households.sum().over("area_id"))
    )
    weighted = (households * weight).sum().over("area_id")
    people = pl.when(weighted > 0).then(weight * residents / weighted).otherwise(reference_people)
    return kept.with_columns(people.alias("people"))


LEAST_REGISTRATIONS = 30
"""Registrations of a year from which their timing, and take-up, are taken."""

MIDDLE_OF_MONTH = 0.5


def registered_share(
    registrations: pl.DataFrame, from_date: dt.date, halving_months: float
) -> Numbers:
    """Share of a year's registrations that are in by the end of each month, shape (13,).

    Parameters
    ----------
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
        by_month[len(months_between(from_date, month))] = count
    if by_month.sum() < LEAST_REGISTRATIONS:
        left = np.exp2(-np.arange(MONTHS_PER_YEAR + 1) / halving_months)
        return np.asarray((1.0 - left) / (1.0 - left[-1]))
    return np.concatenate([[0.0], np.cumsum(by_month) / by_month.sum()])


def share_by_round(
    registered: Numbers, start: dt.date, handover_months: Sequence[dt.date]
) -> Numbers:
    """Share of the year's registrations that are in by the middle of each round's month."""
    places = np.array([len(months_between(start, month)) for month in handover_months])
    return np.interp(places + MIDDLE_OF_MONTH, np.arange(MONTHS_PER_YEAR + 1), registered)


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
    """
    new = groups.unregistered * np.clip(take_up, 0.0, 1.0)[:, groups.dwelling]
    waiting = groups.waiting * (1.0 - no_show_share[:, None])
    demand = new[:, :, None] * registered_share_by_round
    demand += waiting[:, :, None]
    return np.asarray(demand)
