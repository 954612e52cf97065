"""Evidence: what the store counts before the plan begins, and what a report measured."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.diversion.areas import fed_ratio
from planner.diversion.rounds import prepare_rounds, with_weights
from planner.diversion.season import stated_spread
from planner.diversion.town_year import RECALL, without_recall
from planner.errors import EstimateError
from planner.factors.draws import draw_factors
from planner.survey.weights import weigh_round
from planner.tables import RESIDUAL_BIN

if TYPE_CHECKING:
    from collections.abc import Collection

    import polars as pl

    from planner.diversion.leakage import Leakage
    from planner.diversion.measured import Diversion
    from planner.factors import FactorTable
    from planner.program import Program
    from planner.store import Store

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
    # queries wave_frames, households_by_wave and prior_shares
    frames: pl.DataFrame
    asked: pl.DataFrame
    priors: pl.DataFrame
    turnout: pl.DataFrame  # query turnout_by_event

    @property
    def bins_in_year(self) -> int:
        """Bins given in the year before the plan."""
        return int(self.areas["bins_given_in_year"].sum())


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
        frames=store.query("wave_frames", **until),
        asked=store.query("households_by_wave", **until),
        priors=store.query("prior_shares", **until),
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
    evidence: Evidence, program: Program, table: FactorTable
) -> SurveyedRoutes | None:
    """Estimate the routes from a baseline survey alone; None where there is none.

    No follow-up is needed for it, so that a plan made before launch has it already. What
    recall adds is taken off as a report does: households that answer once they have their
    bin do so from memory.
    """
    method = program.method
    try:
        asked = prepare_rounds(evidence.frames, evidence.asked, method.draws_count, method)
        waves = [weigh_round(one) for one in asked]
        baseline = with_weights(evidence.priors, waves, "baseline")
    except EstimateError:
        return None
    believed = draw_factors([table.find(RECALL)], method.draws_count, method.seed)[RECALL]
    beliefs = believed, stated_spread(believed)
    routes, _ = without_recall(baseline, evidence.areas, beliefs, method.seed)
    return SurveyedRoutes(routes.area_ids, routes.shares[..., RESIDUAL_BIN], routes.answers_count)
