"""What a plan rests on and no draw changes: counts, climate, prices, surveyed routes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, places_of
from planner.diversion.areas import fed_ratio
from planner.diversion.rounds import prepare_rounds, with_weights
from planner.diversion.season import stated_spread
from planner.diversion.town_year import RECALL, without_recall
from planner.errors import EstimateError
from planner.factors.draws import draw_factors
from planner.sizing.draws import emission_rates
from planner.sizing.groups import groups_of, registered_share
from planner.survey.weights import weigh_rounds
from planner.tables import DWELLINGS, RESIDUAL_BIN

if TYPE_CHECKING:
    from collections.abc import Collection

    from planner.diversion.leakage import Leakage
    from planner.diversion.measured import Diversion
    from planner.factors import FactorTable
    from planner.program import Program
    from planner.sizing.draws import EmissionRates
    from planner.sizing.groups import Groups
    from planner.sizing.settings import Settings
    from planner.store.opening import Store


AGES_MONTHS = (6.0, 12.0, 24.0)
"""Ages at which measured retention is read; the planning shares are published at the same."""


@dataclass(frozen=True)
class Evidence:
    """What the store counts before the first day of the plan."""

    # the year before the plan, and the plan's first day
    from_date: dt.date
    before_date: dt.date
    households: pl.DataFrame  # query households_by_group
    registrations: pl.DataFrame  # query registrations_by_month, over the year before
    handovers: pl.DataFrame  # query handovers_by_month
    areas: pl.DataFrame  # query bins_by_area
    costs: pl.DataFrame  # query costs_by_category
    turnout: pl.DataFrame  # query turnout_by_event


@dataclass(frozen=True)
class SurveyedRoutes:
    """Share of scraps that went into the residual bin before, from baseline answers."""

    area_ids: tuple[str, ...]  # areas, in the order of the second axis
    residual_bin_share: Numbers  # shape (1 + draws_count, areas, dwellings)
    answers_count: int  # baseline answers behind it

    def without(self, hidden: Collection[str], areas: pl.DataFrame) -> SurveyedRoutes:
        """Give hidden areas the mean of the shown ones with the same kerbside service.

        A plan prints what a bin keeps out in each area, so it must not rest on the answers
        of few households in one of them.

        Parameters
        ----------
        areas
            Query bins_by_area: area_id, kerbside_service.
        """
        service = dict(areas.select("area_id", "kerbside_service").iter_rows())
        shares = self.residual_bin_share.copy()
        for place, area_id in enumerate(self.area_ids):
            if area_id not in hidden:
                continue
            shown = [n for n, other in enumerate(self.area_ids) if other not in hidden]
            alike = [n for n in shown if service[self.area_ids[n]] == service[area_id]]
            lent = alike or shown or list(range(len(self.area_ids)))
            shares[:, place] = self.residual_bin_share[:, lent].mean(axis=1)
        return replace(self, residual_bin_share=shares)


@dataclass(frozen=True)
class Measured:
    """What the report of the year before measured of bins in use and their feed."""

    reporting_year: str
    # shape (1 + draws_count, dwellings, 3): bins in use after 6, 12 and 24 months
    in_use_share: Numbers
    # shape (1 + draws_count,): feed of an in-use bin whose worms can take all of it, at the level
    # of the last survey round [kg/week]
    full_feed_kg_per_week: Numbers
    area_ids: tuple[str, ...]  # areas, in the order of the first axis of `feed_ratio`
    # shape (areas, dwellings): what a bin there is fed over the mean bin, by the dwelling's own
    # answers and, shrunk, the area's
    feed_ratio: Numbers
    # what would have been composted anyway, and what was thrown away after all
    leakage: Leakage | None = None
    # share of the bins in use by the curves that can be, as households hold no more
    still_held_share: float = 1.0


def read_evidence(store: Store, start: dt.date) -> Evidence:
    """Count what is recorded before the first day of the plan."""
    from_date = start.replace(year=start.year - 1)
    span = {"from_date": from_date, "before_date": start}
    until = {"before_date": start}
    return Evidence(
        from_date=from_date,
        before_date=start,
        households=store.query("households_by_group", **span),
        registrations=store.query("registrations_by_month", **span),
        handovers=store.query("handovers_by_month", **until),
        areas=store.query("bins_by_area", **span),
        costs=store.query("costs_by_category", **span),
        turnout=store.query("turnout_by_event", **until),
    )


def measured_of(
    diversion: Diversion, reporting_year: str, hidden: Collection[str] = ()
) -> Measured:
    """Take from a measured year what a plan can learn; of hidden areas, the town's alone."""
    estimates = diversion.estimates
    ages = np.array(AGES_MONTHS)
    pooled = estimates.pooled_kg_per_in_use_bin_week
    is_hidden = np.isin(diversion.cohorts.area_ids, list(hidden))
    by_area = np.where(is_hidden, 1.0, fed_ratio(diversion))
    return Measured(
        reporting_year,
        np.stack([curve.in_use_share(ages) for curve in estimates.retained.curves], axis=1),
        pooled * diversion.benchmark.last_level_over_year,
        diversion.cohorts.area_ids,
        np.outer(by_area, estimates.kg_per_in_use_bin_week[0] / pooled[0]),
        diversion.leakage,
        float(diversion.still_held_share[0, 0]),
    )


def routes_of(diversion: Diversion) -> SurveyedRoutes:
    """Take what went into the residual bin before, to go with what each area feeds."""
    shares = diversion.residual_share_within_areas
    return SurveyedRoutes(diversion.cohorts.area_ids, shares, diversion.routes.answers_count)


def baseline_routes(
    store: Store, evidence: Evidence, program: Program, table: FactorTable
) -> SurveyedRoutes | None:
    """Estimate the routes from a baseline survey alone; None where there is none.

    No follow-up is needed for it, so that a plan made before launch has it already. What
    recall adds is taken off as a report does: households that answer once they have their
    bin do so from memory.
    """
    method, until = program.method, {"before_date": evidence.before_date}
    priors = store.query("prior_shares", **until)
    frames, households = (store.query(n, **until) for n in ("wave_frames", "households_by_wave"))
    told = set(priors["wave_id"])
    try:
        asked = prepare_rounds(frames, households, method.draws_count, method)
        waves = weigh_rounds([one for one in asked if one.wave_id in told])
        baseline = with_weights(priors, waves, "baseline")
    except EstimateError:
        return None
    believed = draw_factors([table.find(RECALL)], method.draws_count, method.seed)[RECALL]
    beliefs = believed, stated_spread(believed)
    routes, _ = without_recall(baseline, evidence.areas, beliefs, method.seed)
    return SurveyedRoutes(routes.area_ids, routes.shares[..., RESIDUAL_BIN], routes.answers_count)


COSTS_OF_A_BIN = ("worms", "bedding", "freight", "events", "workshops")
COST_OF_BINS = "bins"
RECEIPTS = "copayments_received"
"""Categories of the ledger: those that grow with the bins, the bins' own price, and receipts;
the rest is spent however many are given."""


@dataclass(frozen=True)
class EarlierBins:
    """Bins given before the plan: months of hand-over, and households by group."""

    # first days of consecutive months from the first hand-over on; empty without bins
    months: tuple[dt.date, ...]
    # shape (groups, months): households that took their first bin, and may still hold it
    households: Numbers


@dataclass(frozen=True)
class Context:
    """Counts, climate and prices behind a plan."""

    program: Program
    groups: Groups
    # shape (13,): share of a year's registrations that are in by the end of each month
    registered: Numbers
    # shape (dwellings,): size of the households to which the feed applies
    reference_people: Numbers
    # shape (groups,): what a bin of the group is fed over the mean bin, as measured
    feed_ratio: Numbers
    reference_copayment: float  # mean co-payment under which last year's households registered
    routes: SurveyedRoutes | None
    rates: EmissionRates
    # by the ledger of the year before; None where it has no line
    ledger_cost_per_bin: float | None
    ledger_fixed_cost: float | None
    earlier: EarlierBins

    @property
    def mean_price(self) -> float:
        """Mean price of the bin models, to which a co-payment is held up."""
        return float(np.mean([model.unit_price for model in self.program.bin_models]))

    def other_cost_per_bin(self, settings: Settings) -> float | None:
        """Cost of a bin beside its price, where the program file or the ledger tells."""
        if settings.other_cost_per_bin is not None:
            return settings.other_cost_per_bin
        return self.ledger_cost_per_bin

    def fixed_cost(self, settings: Settings) -> float:
        """Cost that does not depend on the bins; nothing where nobody tells."""
        if settings.fixed_cost is not None:
            return settings.fixed_cost
        return self.ledger_fixed_cost or 0.0


def _feed_ratio(groups: Groups, measured: Measured | None) -> Numbers:
    """Take each group's measured ratio; 1 where nothing was measured, or not of its area."""
    if measured is None:
        return np.ones(groups.area.size)
    place = {area_id: row for row, area_id in enumerate(measured.area_ids)}
    rows = [place.get(area_id, -1) for area_id in groups.area_ids]
    by_area = np.vstack([measured.feed_ratio, np.ones(len(DWELLINGS))])[rows]
    return np.asarray(by_area[groups.area, groups.dwelling])


def context_of(
    program: Program,
    table: FactorTable,
    evidence: Evidence,
    measured: Measured | None,
    routes: SurveyedRoutes | None,
) -> Context:
    """Gather what a plan rests on.

    Raises
    ------
    EstimateError
        No area has a household.
    FactorError
        A factor is not in the tables.
    """
    reference = table.find("reference_household_people").value
    ratio = {name: table.find("household_size_ratio", name).value for name in DWELLINGS}
    counted = groups_of(evidence.households, ratio, reference)
    groups = counted.with_waiting_spread(program.privacy.small_cell_threshold)
    halving = table.find("registration_halving_months").value
    is_measured = measured is not None
    per_bin, fixed = _ledger(evidence)
    return Context(
        program=program,
        groups=groups,
        registered=registered_share(evidence.registrations, evidence.from_date, halving),
        reference_people=(
            groups.mean_people_by_dwelling() if is_measured else np.full(len(DWELLINGS), reference)
        ),
        feed_ratio=_feed_ratio(groups, measured),
        reference_copayment=_copayment_before(evidence),
        routes=routes,
        rates=emission_rates(
            program,
            table,
            program.sizing.draws_count,
            table.find("planned_bedding_kg").value,
            table.of_new_bin("starter_kg").value,
        ),
        ledger_cost_per_bin=per_bin,
        ledger_fixed_cost=fixed,
        earlier=_earlier(evidence, groups, 1.0 if measured is None else measured.still_held_share),
    )


def _ledger(evidence: Evidence) -> tuple[float | None, float | None]:
    """Cost of a bin beside its price, and fixed cost, of the year before."""
    spent = dict(evidence.costs.select("category", "amount_in_year").iter_rows())
    spent = {str(category): float(amount) for category, amount in spent.items()}
    if not any(spent.values()):
        return None, None
    by_bin = sum(spent.pop(name, 0.0) for name in COSTS_OF_A_BIN)
    spent.pop(COST_OF_BINS, None)
    spent.pop(RECEIPTS, None)
    bins = int(evidence.areas["bins_given_in_year"].sum())
    return (by_bin / bins if bins else None), sum(spent.values())


def _copayment_before(evidence: Evidence) -> float:
    """Mean co-payment of the bins of the year before."""
    last = evidence.handovers.filter(
        evidence.handovers["handover_month"] >= evidence.from_date.replace(day=1)
    )
    bins = int(last["bins_given"].sum())
    return float(last["copayment"].sum()) / bins if bins else 0.0


def _earlier(evidence: Evidence, groups: Groups, still_held_share: float) -> EarlierBins:
    rows = evidence.handovers
    if rows.is_empty():
        return EarlierBins((), np.zeros((groups.count, 0)))
    months = tuple(sorted(set(rows["handover_month"])))
    households = np.zeros((groups.count, len(months)))
    group = rows.select(pl.concat_str("area_id", "dwelling", separator="/")).to_series()
    places = places_of(group, groups.labels), places_of(rows["handover_month"], months)
    np.add.at(households, places, rows["households_begun"].to_numpy())
    return EarlierBins(months, households * still_held_share)
