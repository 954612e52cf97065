"""The year measured under other assumptions about those who did not answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.arrays import Numbers
from planner.diversion.rounds import prepare_rounds
from planner.diversion.town_year import measure_town, routes_before, spreads_of
from planner.memory import give_back
from planner.survey.response import KNOWN_BEFORE
from planner.survey.use_intervals import filled_if
from planner.survey.weights import weigh_round, weigh_rounds

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.diversion.measured import Diversion
    from planner.diversion.town_year import Counts, Inputs, TownYear
    from planner.program import Program
    from planner.survey.use_intervals import Silent
    from planner.survey.weights import WaveWeights

BOUND_ROWS = 1 + 200
"""Replicates of each bound: enough for the ends of its own interval."""

USERS_ODDS = (1.0, 1.5, 2.0, 3.0, 5.0)
"""Odds of answering of users over those of others like them, at which the year is measured."""

KNOWN_OF_ALL = ("area_id", "dwelling")
"""What a register tells without the household's history."""


@dataclass(frozen=True)
class SilentBounds:
    """The same town's year measured twice more, with at most 200 draws each."""

    # as if all who were asked and did not answer had kept their bins, had stopped
    if_kept: TownYear
    if_stopped: TownYear
    if_users_likelier: tuple[TownYear, ...]  # the year at each of USERS_ODDS, value alone
    # the year as if who answers depended on area and dwelling alone, value alone
    without_history: TownYear


def bounds_if_silent(
    measured: Diversion, counts: Counts, program: Program, factors: Mapping[str, Numbers]
) -> SilentBounds:
    """Measure the year under both extremes of what the answers cannot tell, and between.

    Nothing is assumed of households that did not answer: they count with their base weight,
    all as users who feed as those who answered do, or all as having stopped. What is known
    of them from other rounds and from bins that came back stays.

    References
    ----------
    Manski, C.F. (2003), Partial Identification of Probability Distributions, Springer,
    chapter 1. Cochran, W.G. (1977), Sampling Techniques, 3rd ed., section 13.2.
    """
    few = {name: draws[:BOUND_ROWS] for name, draws in factors.items()}
    # few draws tell little of their own spread, and another seed must move no value
    spreads = spreads_of(factors)
    silent = _silent_rows(counts)
    extremes = [_as_if(counts, silent, extreme) for extreme in ("all kept", "all stopped")]
    kept, stopped = _bounds(measured, [(one, program, few, spreads) for one in extremes])
    give_back()
    # where the value alone is read nothing is drawn: it rests on no draw
    value = {name: draws[:1] for name, draws in factors.items()}
    inputs = counts, program, value, spreads
    forgetful = _without_history(counts)
    plain = prepare_rounds(forgetful.frames, forgetful.households, 0, program.method)
    return SilentBounds(
        if_kept=kept,
        if_stopped=stopped,
        if_users_likelier=tuple(
            measured
            if odds == 1.0
            else measure_town(inputs, _at_odds(measured, odds), measured.routes_before)
            for odds in USERS_ODDS
        ),
        without_history=measure_town((forgetful, *inputs[1:]), weigh_rounds(plain)),
    )


def _at_odds(measured: Diversion, odds: float) -> tuple[WaveWeights, ...]:
    """Weigh the rounds that tell of users anew, value alone; the others know no users."""
    return tuple(
        weigh_round(one.with_draws(0), odds) if one.asked["is_in_use"].any() else wave
        for one, wave in zip(measured.asked, measured.waves, strict=True)
    )


def _bounds(measured: Diversion, extremes: Sequence[Inputs]) -> tuple[TownYear, ...]:
    """Measure both extremes; what only figures of the reported year read is let go."""
    counts, program, factors, _ = extremes[0]
    draws_count = next(iter(factors.values())).size - 1
    # nothing is filled in of the rounds before the bins
    waiting = counts.frames.filter(pl.col("wave_kind") != "followup")["wave_id"].unique()
    ready = [one.with_draws(draws_count) for one in measured.asked if one.wave_id in waiting]
    # both took part alike, so their weights are the same, and so is what they did before
    waves = weigh_rounds(
        prepare_rounds(counts.frames, counts.households, draws_count, program.method, ready)
    )
    routes, _ = routes_before(extremes[0], waves)
    found = [measure_town(inputs, waves, routes) for inputs in extremes]
    return tuple(replace(one, estimates=one.estimates.without_households()) for one in found)


def _without_history(counts: Counts) -> Counts:
    """Forget all that may tell who answers, but for area and dwelling."""
    forgotten = [name for name in KNOWN_BEFORE if name not in KNOWN_OF_ALL]
    same = pl.lit("any")
    return replace(
        counts,
        frames=counts.frames.with_columns(same.alias(name) for name in forgotten),
        households=counts.households.with_columns(people=same, cohort=same),
    )


def _silent_rows(counts: Counts) -> pl.DataFrame:
    """Households that a follow-up asked in vain, with the age of their bin when it opened."""
    known = counts.use_intervals.select(
        "household_id", "entry_date", "last_in_use_age_days", "first_out_of_use_age_days"
    )
    return (
        counts.frames.filter(
            pl.col("wave_kind") == "followup", ~pl.col("has_answered"), ~pl.col("is_settled")
        )
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
    is_followup = pl.col("wave_kind") == "followup"
    frames = counts.frames.join(
        newly, on=["wave_id", "household_id"], how="left", maintain_order="left"
    ).with_columns(
        has_answered=pl.col("has_answered") | pl.col("is_filled").fill_null(value=False),
        # where all are taken to have answered, nobody stands for the silent
        again_probability=pl.when(~is_followup).then("again_probability"),
        has_answered_again=pl.col("has_answered_again") & ~is_followup,
    )
    return replace(
        counts,
        frames=frames.drop("is_filled"),
        followup=followup.sort("wave_id", "household_id"),
        use_intervals=filled_if(counts.use_intervals, extreme),
    )
