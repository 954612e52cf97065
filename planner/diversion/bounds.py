"""The year measured under other assumptions about those who did not answer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.arrays import Numbers
from planner.diversion.rounds import prepare_rounds
from planner.diversion.town_year import (
    BOUND_ROWS,
    FollowUpEvidence,
    measure_town,
    routes_before,
    spreads_of,
)
from planner.memory import release_freed_memory
from planner.survey.response import KNOWN_BEFORE
from planner.survey.use_intervals import filled_if
from planner.survey.weights import weigh_rounds

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.diversion.counts import Counts
    from planner.diversion.measured import Diversion
    from planner.diversion.town_year import Inputs, TownYear
    from planner.program import Program
    from planner.program.emissions import Method
    from planner.survey.weights import WaveWeights

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

    Nothing is assumed of who kept the bin among households that did not answer: they count
    with their base weight, all as users or all as having stopped. What users feed, and where
    it went before, stays as measured, and so does what is known of the silent from other
    rounds and from bins that came back.

    References
    ----------
    Manski, C.F. (2003), Partial Identification of Probability Distributions, Springer,
    chapter 1. Cochran, W.G. (1977), Sampling Techniques, 3rd ed., section 13.2.
    """
    few = {name: draws[:BOUND_ROWS] for name, draws in factors.items()}
    # few draws tell little of their own spread, and another seed must move no value
    spreads = spreads_of(factors)
    kept, stopped = _extremes(measured, (counts, program, few, spreads))
    release_freed_memory()
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
        weigh_rounds((replace(one, numbers=replace(one.numbers, draws_count=0)),), odds)[0]
        if one.asked["is_in_use"].any()
        else replace(wave, weights=wave.weights[:1])
        for one, wave in zip(measured.asked, measured.waves, strict=True)
    )


def _extremes(measured: Diversion, inputs: Inputs) -> tuple[TownYear, ...]:
    """Measure both extremes; what only figures of the reported year read is let go."""
    counts, program, *_ = inputs
    heard = FollowUpEvidence.of(inputs, measured.waves)
    leant, levels = heard.leant(routes_before(inputs, measured.waves)[0]), heard.levels()
    # nobody is silent at either extreme, so the weights of both are the same
    frames = _all_heard(counts)
    of_all = _followups_weighed_again(measured, counts, frames, program.method)
    found = []
    for extreme in ("all kept", "all stopped"):
        intervals = filled_if(counts.use_intervals, extreme)
        filled = replace(counts, frames=frames, use_intervals=intervals)
        found.append(heard.keeping(filled, of_all).town(leant, levels)[0])
    return tuple(replace(one, estimates=one.estimates.without_households()) for one in found)


def _followups_weighed_again(
    measured: Diversion, counts: Counts, frames: pl.DataFrame, method: Method
) -> tuple[WaveWeights, ...]:
    """Weigh the follow-ups with other frames; rounds before the bins stay as they are."""
    followups = frames.filter(pl.col("wave_kind") == "followup")["wave_id"].unique()
    before = {one.wave_id: one for one in measured.waves if one.wave_id not in followups}
    draws_count = measured.waves[0].weights.draws_count
    asked = prepare_rounds(frames, counts.households, draws_count, method, before)
    return *before.values(), *weigh_rounds(asked)


def _without_history(counts: Counts) -> Counts:
    """Forget all that may tell who answers, but for area and dwelling."""
    forgotten = [name for name in KNOWN_BEFORE if name not in KNOWN_OF_ALL]
    same = pl.lit("any")
    return replace(
        counts,
        frames=counts.frames.with_columns(same.alias(name) for name in forgotten),
        households=counts.households.with_columns(people=same, cohort=same),
    )


def _all_heard(counts: Counts) -> pl.DataFrame:
    """Take every household whose bin a follow-up asked after as having answered."""
    known = counts.use_intervals.select("household_id", "entry_date")
    is_followup = pl.col("wave_kind") == "followup"
    has_bin = (pl.col("opens_date") >= pl.col("entry_date")).fill_null(value=False)
    return (
        counts.frames.join(known, on="household_id", how="left", maintain_order="left")
        .with_columns(
            has_answered=pl.col("has_answered") | (is_followup & ~pl.col("is_settled") & has_bin),
            # where all are taken to have answered, nobody stands for the silent
            again_probability=pl.when(~is_followup).then("again_probability"),
            has_answered_again=pl.col("has_answered_again") & ~is_followup,
        )
        .drop("entry_date")
    )
