"""Best and worst bounds: as if all who did not answer had kept their bins, or had stopped."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.diversion.measured import Diversion, measure
from planner.survey.use_intervals import filled_if

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from planner.diversion.counts import Counts
    from planner.program import Program
    from planner.survey.use_intervals import Silent

BOUND_ROWS = 1 + 200
"""Replicates of each bound: enough for the ends of its own interval."""


@dataclass(frozen=True)
class SilentBounds:
    """The same year measured twice more, with at most 200 draws each.

    Parameters
    ----------
    kept, stopped
        As if all who were asked and did not answer had kept their bins, had stopped.
    silent_count
        Households that were asked in a follow-up and did not answer, over all rounds.
    """

    kept: Diversion
    stopped: Diversion
    silent_count: int


def bounds_if_silent(
    counts: Counts, program: Program, factors: Mapping[str, NDArray[np.float64]]
) -> SilentBounds:
    """Measure the year under both extremes of what the answers cannot tell.

    Nothing is assumed of households that did not answer: they count with their base weight,
    all as users who feed as those who answered do, or all as having stopped. What is known
    of them from other rounds and from bins that came back stays.

    Parameters
    ----------
    counts, program, factors
        As for `planner.diversion.measured.measure`.

    References
    ----------
    Manski, C.F. (2003), Partial Identification of Probability Distributions, Springer,
    chapter 1. Cochran, W.G. (1977), Sampling Techniques, 3rd ed., section 13.2.
    """
    few = {name: draws[:BOUND_ROWS] for name, draws in factors.items()}
    silent = _silent_rows(counts)
    return SilentBounds(
        kept=measure(_as_if(counts, silent, "all kept"), program, few),
        stopped=measure(_as_if(counts, silent, "all stopped"), program, few),
        silent_count=silent.height,
    )


def _silent_rows(counts: Counts) -> pl.DataFrame:
    """Households that a follow-up asked in vain, with the age of their bin when it opened."""
    known = counts.use_intervals.select(
        "household_id", "entry_date", "last_in_use_age_days", "first_out_of_use_age_days"
    )
    return (
        counts.frames.filter(pl.col("wave_kind") == "followup", ~pl.col("has_answered"))
        .join(known, on="household_id", maintain_order="left")
        .with_columns(age_days=(pl.col("opens_date") - pl.col("entry_date")).dt.total_days())
        .filter(pl.col("age_days") >= 0)
    )


def _as_if(counts: Counts, silent: pl.DataFrame, extreme: Silent) -> Counts:
    """Count the silent as having answered."""
    surely_out = pl.col("first_out_of_use_age_days").fill_null(pl.lit(2**62)) <= pl.col("age_days")
    surely_in = pl.col("last_in_use_age_days") >= pl.col("age_days")
    is_in_use = ~surely_out if extreme == "all kept" else surely_in
    answers = silent.select(
        "wave_id",
        "household_id",
        "area_id",
        "dwelling",
        first_handover_date="entry_date",
        answer_date="opens_date",
        age_days="age_days",
        is_in_use=is_in_use,
    )
    followup = pl.concat([counts.followup, answers], how="diagonal")
    newly = silent.select("wave_id", "household_id", is_filled=pl.lit(value=True))
    frames = counts.frames.join(
        newly, on=["wave_id", "household_id"], how="left", maintain_order="left"
    ).with_columns(has_answered=pl.col("has_answered") | pl.col("is_filled").fill_null(value=False))
    return replace(
        counts,
        frames=frames.drop("is_filled"),
        followup=followup.sort("wave_id", "household_id"),
        use_intervals=filled_if(counts.use_intervals, extreme),
    )
