"""Bins of schools, flats and cafes: feed by their own weighings, and how many are kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.field.dropout import exact_interval
from planner.messages import officer_messages, say
from planner.store.opening import open_store
from planner.units import DAYS_PER_MONTH, KG_PER_T

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator
    from pathlib import Path

    import polars as pl


LEAST_SITES = 3
"""From fewer weighed sites no spread between sites can be told."""

CONFIDENCE = 0.95
KEPT_AGES_DAYS = (182, 365, 730)

Spread = tuple[float, float, float]


@dataclass(frozen=True)
class SharedBins:
    """Sites of a program between two days."""

    sites: pl.DataFrame  # rows of the query site_weeks
    # value, low and high of the scraps fed at all sites; None with too few weighed sites
    fed_kg: Spread | None
    kg_per_bin_week: Spread | None  # the same of one bin in a week
    # for each age in days: bins' placements kept, those known, and the exact 95% interval of the
    # share kept
    kept: dict[int, tuple[int, int, float, float]]


def read_shared_bins(folder: Path, from_date: dt.date, before_date: dt.date) -> SharedBins:
    """Count and estimate the sites of a program from one day to before another.

    Raises
    ------
    StoreError
        The records cannot be read.
    """
    with open_store(folder, read_only=True) as store:
        sites = store.query("site_weeks", from_date=from_date, before_date=before_date)
        states = {
            age: store.query("site_bins_kept", as_of=before_date, age_days=age)
            for age in KEPT_AGES_DAYS
        }
    rate = feed_per_bin_week(sites)
    weeks = float(sites["bin_weeks"].sum())
    fed = None if rate is None else (rate[0] * weeks, rate[1] * weeks, rate[2] * weeks)
    return SharedBins(sites, fed, rate, {age: _kept(rows) for age, rows in states.items()})


def feed_per_bin_week(sites: pl.DataFrame) -> Spread | None:
    """Scraps that one bin of a site is fed in a week, with its 95% interval [kg].

    The ratio of all kilograms weighed to all bin-weeks weighed; sites are the units, since
    weeks of one site are alike.

    Parameters
    ----------
    sites
        Rows of the query site_weeks.

    Notes
    -----
    ``R = sum y / sum x``; its variance ``n / (n - 1) sum (y_i - R x_i)² / (sum x)²``, and Student's
    t with n - 1 degrees of freedom. No correction for a finite number of sites.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd edition, section 6.4 (from memory).
    """
    weighed = sites.filter(sites["weighed_bin_weeks"] > 0.0)
    if weighed.height < LEAST_SITES:
        return None
    kg, weeks = (weighed[name].to_numpy() for name in ("weighed_kg", "weighed_bin_weeks"))
    count, ratio = len(kg), float(kg.sum() / weeks.sum())
    variance = count / (count - 1) * np.sum((kg - ratio * weeks) ** 2) / weeks.sum() ** 2
    half = float(scipy.stats.t.ppf((1.0 + CONFIDENCE) / 2.0, count - 1) * np.sqrt(variance))
    return ratio, max(0.0, ratio - half), ratio + half


def _kept(states: pl.DataFrame) -> tuple[int, int, float, float]:
    known = states["is_in_use"].drop_nulls()
    kept = int(known.sum())
    low, high = exact_interval(np.array([kept]), np.array([max(1, len(known))]))
    return kept, len(known), float(low[0]), float(high[0])


def site_lines(found: SharedBins) -> Iterator[str]:
    """Say what sites have, what they were fed, and how many keep their bins."""
    sites = found.sites.filter(found.sites["bins_count"] > 0)
    if sites.is_empty():
        yield say("shared.none")
        return
    kinds = sites["site_kind"].value_counts(sort=True).sort("count", "site_kind", descending=True)
    listed = ", ".join(say(f"shared.kind.{kind}", count=count) for kind, count in kinds.iter_rows())
    yield say(
        "shared.sites",
        sites=sites.height,
        kinds=listed,
        people=int(sites["people_count"].sum()),
        used=int(sites["bins_in_use_count"].sum()),
        bins=int(sites["bins_count"].sum()),
    )
    weighed = int((sites["weighed_weeks_count"] > 0).sum())
    if found.fed_kg is None or found.kg_per_bin_week is None:
        yield say("shared.too_few", weighed=weighed)
    else:
        value, low, high = (one / KG_PER_T for one in found.fed_kg)
        weeks = int(sites["weighed_weeks_count"].sum())
        tonnes = say("shared.tonnes", **officer_messages().with_interval(value, low, high))
        rate = say("shared.rate", **officer_messages().with_interval(*found.kg_per_bin_week))
        yield say("shared.fed", tonnes=tonnes, weeks=weeks, sites=weighed, rate=rate)
    for age, (kept, known, low, high) in found.kept.items():
        if known:
            counts = {"months": round(age / DAYS_PER_MONTH), "kept": kept, "known": known}
            limits = {"low": officer_messages().share(low), "high": officer_messages().share(high)}
            yield say("shared.kept", **counts, **limits)
    yield say("shared.apart")
