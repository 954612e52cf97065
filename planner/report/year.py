"""The year: everything counted and estimated for one reporting year, before it is said."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.diversion.areas import AreaFigures, area_figures
from planner.diversion.bounds import SilentBounds, bounds_if_silent
from planner.diversion.carried import Carried, carry_forward
from planner.diversion.counts import DIARY_WINDOW_DAYS, Counts
from planner.diversion.measured import FACTOR_IDS, Diversion, measure
from planner.emissions import (
    Activity,
    EmissionFactors,
    EmissionsAvoided,
    draw_emission_factors,
    emissions_avoided,
)
from planner.errors import EstimateError
from planner.factors import with_own
from planner.factors.draws import draw_factors
from planner.money import ProgramCost, program_cost
from planner.report.activity import activity_of
from planner.survey.weights import has_enough_answers

if TYPE_CHECKING:
    import polars as pl

    from planner.factors import Factor, FactorTable
    from planner.program import Program, ReportingYear
    from planner.store import Store

QUIET_DAYS = 45
"""A year whose newest record is this near to its end counts as over."""

LONGEST_MONTH_DAYS = 31

NEW_BIN = "new_bin"
"""The worm tables' row for bins that begin with a starter stock."""


@dataclass(frozen=True)
class Year:
    """Records, estimates and factors of one reporting year.

    Parameters
    ----------
    program, reporting_year
        The program file and its block of the year.
    counts
        What the store counts.
    diversion, emissions, cost
        What was estimated.
    factor_table
        Every factor, the council's own in place of the published.
    carried
        The bins given so far in the years to come.
    areas
        The year's figures by area.
    bounds
        The same year as if all who did not answer had kept their bins, or had stopped.
    feed_factors, emission_factors
        Those that the estimates used.
    activity
        What the emissions follow from, by month.
    loads
        Query loads: the files behind the records.
    """

    program: Program
    reporting_year: ReportingYear
    counts: Counts
    diversion: Diversion
    emissions: EmissionsAvoided
    cost: ProgramCost
    carried: Carried
    areas: AreaFigures
    bounds: SilentBounds
    factor_table: FactorTable
    feed_factors: tuple[Factor, ...]
    emission_factors: EmissionFactors
    activity: Activity
    loads: pl.DataFrame


def count_year(store: Store, program: Program, label: str) -> Counts:
    """Run the summary queries up to the end of a reporting year, or of the records.

    Where the newest record lies more than 45 days before the year's end, the year is
    still running and is counted to the end of that record's month.
    """
    from_date, end_date = program.months(label)
    before_date = min(end_date, _records_end(store, end_date))
    until = {"before_date": before_date}
    within = {"from_date": from_date, **until}
    frames = store.query("wave_frames", **until)
    return Counts(
        from_date=from_date,
        before_date=before_date,
        is_running=before_date < end_date,
        handovers=store.query("handovers_by_month", **until),
        areas=store.query("bins_by_area", **within),
        frames=frames,
        households=store.query("households_by_wave", **until),
        followup=store.query("followup_answers", **until),
        priors=store.query("prior_shares", **until),
        diaries=store.query("diary_pairs", **until, window_days=DIARY_WINDOW_DAYS),
        diary_weeks=store.query("diary_weeks", **until, window_days=DIARY_WINDOW_DAYS),
        costs=store.query("costs_by_category", **within),
        costs_by_month=store.query("costs_by_month", **until),
        copayments=store.query("copayments_at_handover", **within),
        use_intervals=store.query("use_intervals", **until, wave_ids=usable_rounds(frames)),
        audits=store.query("audit_changes", **until),
        supplies=store.query("supplies_by_month", **until),
    )


def usable_rounds(frames: pl.DataFrame) -> list[str]:
    """Name the survey rounds that have the answers an estimate needs."""
    return [
        str(wave_id)
        for (wave_id,), frame in frames.group_by("wave_id", maintain_order=True)
        if has_enough_answers(frame)
    ]


def _records_end(store: Store, end_date: dt.date) -> dt.date:
    """First day after the records end, or the year's end where they reach it."""
    latest = store.query("latest_record").item()
    if not isinstance(latest, dt.date) or latest >= end_date - dt.timedelta(days=QUIET_DAYS):
        return end_date
    next_month = latest.replace(day=1) + dt.timedelta(days=LONGEST_MONTH_DAYS)
    return next_month.replace(day=1)


def estimate_year(
    program: Program, label: str, counts: Counts, loads: pl.DataFrame, table: FactorTable
) -> Year:
    """Estimate a reporting year from what was counted.

    Parameters
    ----------
    program, label
        The program file and the year's label.
    counts, loads
        What the store holds.
    table
        The published factors; the council's own take the place of those they name.

    Raises
    ------
    EstimateError, FactorError
        The records or the factor tables do not carry an estimate.
    """
    method = program.method
    table = with_own(table, program.factors, program.council.name)
    feed_factors = tuple(_feed_factor(table, name) for name in FACTOR_IDS)
    drawn = draw_factors(feed_factors, method.draws_count, method.seed)
    try:
        diversion = measure(counts, program, drawn)
    except EstimateError as error:
        message = f"{error}\n{_counted_so_far(counts, program, label)}"
        raise EstimateError(message) from error
    months = diversion.cohorts.months_from(counts.from_date)
    factors = draw_emission_factors(program, table, method.draws_count, method.seed)
    activity = activity_of(diversion, counts.supplies, program, counts.from_date)
    return Year(
        program=program,
        reporting_year=program.year(label),
        counts=counts,
        diversion=diversion,
        emissions=emissions_avoided(activity, factors, program.emissions),
        activity=activity,
        cost=program_cost(counts.costs),
        carried=carry_forward(diversion, counts, program, drawn),
        areas=area_figures(diversion, months, drawn["area_feed_spread_share"], method.seed),
        bounds=bounds_if_silent(counts, program, drawn),
        factor_table=table,
        feed_factors=feed_factors,
        emission_factors=factors,
        loads=loads,
    )


def _counted_so_far(counts: Counts, program: Program, label: str) -> str:
    """Say what is known without a survey."""
    areas = counts.areas
    cost = program_cost(counts.costs)
    money = f"{cost.in_year:,.0f} {program.council.currency} spent"
    return (
        f"Counted in {label} so far: {areas['bins_given_in_year'].sum():,} bins given to "
        f"{areas['households_served_in_year'].sum():,} households, "
        f"{money if cost.lines_count else 'no ledger line loaded'}; "
        f"to date {areas['bins_given_to_date'].sum():,} bins."
    )


def _feed_factor(table: FactorTable, factor_id: str) -> Factor:
    rows = [row for row in table if row.factor_id == factor_id]
    of_new_bins = any(row.applies_to == NEW_BIN for row in rows)
    return table.find(factor_id, NEW_BIN if of_new_bins else "")
