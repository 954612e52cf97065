"""The year: everything counted and estimated for one reporting year, before it is said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl
from polars import selectors as cs

from planner.arrays import Numbers
from planner.diversion.areas import AreaFigures, area_figures
from planner.diversion.bounds import SilentBounds, bounds_if_silent
from planner.diversion.carried import AnotherYear, Carried, another_year, carry_forward
from planner.diversion.counts import DIARY_WINDOW_DAYS, Counts
from planner.diversion.measured import Diversion, measure
from planner.diversion.town_year import FACTOR_IDS, InUse, TownYear, measure_in_use
from planner.emissions.account import EmissionsAvoided, emissions_avoided
from planner.emissions.activity import Activity
from planner.emissions.drawn import EmissionFactors, draw_emission_factors
from planner.errors import EstimateError, NotYetError, ReportError
from planner.factors import Factor, FactorTable, with_own
from planner.factors.draws import draw_factors
from planner.memory import release_freed_memory
from planner.messages import officer_messages, say
from planner.money.ledger import ProgramCost, program_cost
from planner.program import Program, ReportingYear
from planner.report.activity import activity_of
from planner.report.forecasting import Forecast, forecast_year
from planner.survey.asked_rounds import has_enough_answers

if TYPE_CHECKING:
    from planner.store.opening import Store

COUNTED_ONCE = ("stage_answers", "stage_holdings", "stage_who_was_asked")
"""Stage queries that many others read, each after those that it reads."""

GRACE_DAYS = 7
"""A month counts as recorded whole from so many days before its end; nobody hands out daily."""


@dataclass(frozen=True, kw_only=True)
class MeasuredYear:
    """The town's figures of a reporting year, and the factors of them."""

    diversion: Diversion
    emissions: EmissionsAvoided
    activity: Activity  # what the emissions follow from, by month
    cost: ProgramCost
    factor_table: FactorTable  # every factor, the council's own in place of the published
    # those that the estimates used, and the draws of the feed's by name
    feed_factors: tuple[Factor, ...]
    emission_factors: EmissionFactors
    drawn: Mapping[str, Numbers]


@dataclass(frozen=True, kw_only=True)
class CountedYear:
    """Records of one reporting year, from which tonnes may not be estimated yet."""

    # the program file and its block of the year
    program: Program
    reporting_year: ReportingYear
    counts: Counts  # what the store counts
    cost: ProgramCost
    factor_table: FactorTable
    # bins in use, where that is all that can be estimated
    in_use: InUse | None = None

    @property
    def town(self) -> TownYear | InUse | None:
        """What was measured of the whole town."""
        return self.in_use

    def estimated(self) -> Year:
        """Give the year with its estimates.

        Raises
        ------
        NotYetError
            It has none.
        """
        raise NotYetError(say("estimate.not_yet", label=self.reporting_year.reporting_year))


@dataclass(frozen=True, kw_only=True)
class Year(CountedYear, MeasuredYear):
    """Records, estimates and factors of one reporting year."""

    carried: Carried  # the bins given so far in the years to come
    areas: AreaFigures  # the year's figures by area
    # the same year as if all who did not answer had kept their bins, or had stopped
    bounds: SilentBounds
    forecast: Forecast | None  # the year to its end, where it still runs
    # `carried` without the program file's baseline scenarios; None where there are none
    carried_as_surveyed: Carried | None
    # another year of giving like this one; None where no bin was given in it
    again: AnotherYear | None

    @property
    def town(self) -> Diversion:
        """What was measured of the whole town, and of its areas."""
        return self.diversion

    def estimated(self) -> Year:
        """Give the year itself."""
        return self


def count_year(store: Store, program: Program, label: str, as_of: dt.date | None = None) -> Counts:
    """Run the summary queries up to the last month of a reporting year that is recorded whole.

    Parameters
    ----------
    as_of
        Day up to which everything is recorded; that of the newest record unless said. Its
        month counts from a week before the month's end.

    Raises
    ------
    ReportError
        No month of the year is recorded whole by that day.
    """
    from_date, end_date = program.months(label)
    before_date = recorded_before(store, label, from_date, end_date, as_of)
    until = {"before_date": before_date}
    within = {"from_date": from_date, **until}
    with store.counted_once(*COUNTED_ONCE):
        frames = _coded(store.query("wave_frames", **until))
        return Counts(
            from_date=from_date,
            before_date=before_date,
            is_running=before_date < end_date,
            handovers=store.query("handovers_by_month", **until),
            back=store.query("households_back_by_month", **until),
            areas=store.query("bins_by_area", **within),
            frames=frames,
            households=_coded(store.query("households_by_wave", **until)),
            followup=_coded(store.query("followup_answers", **until)),
            priors=_coded(store.query("prior_shares", **until)),
            diaries=_coded(store.query("diary_pairs", **until, window_days=DIARY_WINDOW_DAYS)),
            diary_weeks=_coded(store.query("diary_weeks", **until, window_days=DIARY_WINDOW_DAYS)),
            costs=store.query("costs_by_category", **within),
            costs_by_month=store.query("costs_by_month", **until),
            copayments=store.query("copayments_at_handover", **within),
            use_intervals=_coded(
                store.query("use_intervals", **until, wave_ids=usable_rounds(frames))
            ),
            audits=store.query("audit_changes", **until),
            supplies=store.query("supplies_by_month", **until),
            problems=store.query("problems_told", **within),
            sites=store.query("site_weeks", **within),
            loads=store.query("loads"),
            upcoming=store.query("upcoming_events", from_date=before_date, before_date=end_date),
            take_up=store.query("event_take_up", **until),
            as_of=as_of,
        )


def _coded(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.with_columns(cs.string().cast(pl.Categorical))


def usable_rounds(frames: pl.DataFrame) -> list[str]:
    """Name the survey rounds that have the answers an estimate needs."""
    return [
        str(wave_id)
        for (wave_id,), frame in frames.group_by("wave_id", maintain_order=True)
        if has_enough_answers(frame)
    ]


def recorded_whole_before(as_of: dt.date) -> dt.date:
    """First day after the last month that is recorded whole.

    Examples
    --------
    >>> [f"{recorded_whole_before(dt.date(2025, 11, day))}" for day in (14, 27)]
    ['2025-11-01', '2025-12-01']
    """
    # from a week before its end on, the first of the next month is no more than a week off
    return (as_of + dt.timedelta(days=GRACE_DAYS + 1)).replace(day=1)


def recorded_before(
    store: Store, label: str, from_date: dt.date, end_date: dt.date, as_of: dt.date | None
) -> dt.date:
    """First day after the last month recorded whole, or the year's end where that is passed."""
    latest = as_of or store.query("latest_record").item()
    if not isinstance(latest, dt.date):
        return end_date
    before_date = min(end_date, recorded_whole_before(latest))
    if before_date <= from_date:
        key = "progress.not_begun_as_of" if as_of else "progress.not_begun"
        days = {"first": from_date, "latest": latest}
        raise ReportError(say(key, label=label, **days))
    return before_date


def counted_year(program: Program, label: str, counts: Counts, table: FactorTable) -> CountedYear:
    """Gather what is known of a reporting year without tonnes; see `estimate_year`."""
    try:
        in_use = measure_in_use(counts, program)
    except EstimateError:
        in_use = None
    return CountedYear(
        program=program,
        reporting_year=program.year(label),
        counts=counts,
        cost=program_cost(counts.costs),
        factor_table=with_own(table, program.factors, program.council.name),
        in_use=in_use,
    )


def estimate_year(program: Program, label: str, counts: Counts, table: FactorTable) -> Year:
    """Estimate a reporting year from what was counted; one that still runs is carried to its end.

    The council's own factors take the place of those of the `table`.

    Raises
    ------
    EstimateError, FactorError
        The records or the factor tables do not carry an estimate.
    """
    measured = measure_year(program, label, counts, table)
    diversion, drawn = measured.diversion, measured.drawn
    carried = carry_forward(diversion, counts, program, drawn)
    as_it_is = program.model_copy(update={"scenarios": ()})
    as_surveyed = carry_forward(diversion, counts, as_it_is, drawn) if program.scenarios else None
    _, end_date = program.months(label)
    landfilled = program.landfill.landfilled_share_of_residual_waste
    return Year(
        **vars(measured),
        program=program,
        reporting_year=program.year(label),
        counts=counts,
        carried=carried,
        carried_as_surveyed=as_surveyed,
        again=another_year(diversion, counts, program, drawn),
        forecast=forecast_year(diversion, counts, carried, program, drawn, end_date)
        if counts.is_running
        else None,
        areas=area_figures(diversion, landfilled, program.method.seed),
        bounds=bounds_if_silent(diversion, counts, program, drawn),
    )


def measure_year(
    program: Program,
    label: str,
    counts: Counts,
    table: FactorTable,
    factor_seed: int | None = None,
) -> MeasuredYear:
    """Estimate the whole town's year: what was kept out, what it avoids and what it cost.

    Parameters
    ----------
    factor_seed
        Seed of the published factors' draws; the program's unless given. Councils that are
        to be added up share it, so that one draw holds the same factors for all of them.

    Raises
    ------
    EstimateError, FactorError
        The records or the factor tables do not carry an estimate.
    """
    method = program.method
    seed = method.seed if factor_seed is None else factor_seed
    table = with_own(table, program.factors, program.council.name)
    feed_factors = tuple(map(table.of_new_bin, FACTOR_IDS))
    drawn = draw_factors(feed_factors, method.draws_count, seed, method.seed)
    try:
        diversion = measure(counts, program, drawn)
    except EstimateError as error:
        message = f"{error}\n{_counted_so_far(counts, program, label)}"
        raise type(error)(message) from error
    release_freed_memory()
    factors = draw_emission_factors(program, table, method.draws_count, seed, method.seed)
    activity = activity_of(diversion, counts.supplies, program, counts.from_date)
    return MeasuredYear(
        diversion=diversion,
        emissions=emissions_avoided(activity, factors, program.emissions),
        activity=activity,
        cost=program_cost(counts.costs),
        factor_table=table,
        feed_factors=feed_factors,
        emission_factors=factors,
        drawn=drawn,
    )


def _counted_so_far(counts: Counts, program: Program, label: str) -> str:
    """Say what is known without a survey, and up to when where the year still runs."""
    areas = counts.areas
    cost = program_cost(counts.costs)
    spent = say(
        "progress.spent_so_far",
        amount=officer_messages().money(cost.in_year, program.council.currency),
    )
    so_far = say(
        "progress.counted",
        label=label,
        bins=int(areas["bins_given_in_year"].sum()),
        households=int(areas["households_served_in_year"].sum()),
        money=spent if cost.lines_count else say("progress.no_ledger"),
        ever=int(areas["bins_given_to_date"].sum()),
    )
    if not counts.is_running or counts.as_of is not None:
        return so_far
    return f"{so_far}\n{say('progress.counted_until', day=counts.before_date)}"
