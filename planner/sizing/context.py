"""What a plan rests on and no draw changes: counts, climate, prices, surveyed routes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.sizing.draws import emission_rates
from planner.sizing.groups import groups_of, registered_share
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    import datetime as dt

    from planner.factors import FactorTable
    from planner.program import Program
    from planner.sizing.draws import EmissionRates
    from planner.sizing.evidence import Evidence, Measured, SurveyedRoutes
    from planner.sizing.groups import Groups
    from planner.sizing.settings import Settings

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
    bins = evidence.bins_in_year
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
    months = sorted(set(rows["handover_month"]))
    column = {month: n for n, month in enumerate(months)}
    place = {label: n for n, label in enumerate(groups.labels)}
    households = np.zeros((groups.count, len(months)))
    for area_id, dwelling, month, begun in rows.select(
        "area_id", "dwelling", "handover_month", "households_begun"
    ).iter_rows():
        households[place[f"{area_id}/{dwelling}"], column[month]] += begun
    return EarlierBins(tuple(months), households * still_held_share)
