"""An order planned from the records and the program file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import OrderError
from planner.factors import read_factors, with_own
from planner.ordering.alternatives import find_alternatives
from planner.ordering.assembling import Coming, assemble, budget_quarters, loss_laws
from planner.ordering.bedding_plan import plan_bedding
from planner.ordering.changing import with_changes
from planner.ordering.clashes import find_clashes
from planner.ordering.demand import WORMS, Events, plan_demand
from planner.ordering.forecast import read_forecast
from planner.ordering.later import as_late_as_useful
from planner.ordering.model_shares import model_shares
from planner.ordering.offered import read_offers, read_suppliers
from planner.ordering.plan import OrderPlan
from planner.ordering.searching import Effort
from planner.ordering.shipping_window import Weather
from planner.ordering.slots import Calendar, plan_slots
from planner.ordering.solving import solve
from planner.ordering.working_days import WorkingDays
from planner.store import open_store
from planner.worms.starter import run_in_of_starter, starter_for_scraps_kg

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from planner.factors import FactorTable
    from planner.ordering.alternatives import Alternative
    from planner.ordering.bedding_plan import BeddingPlan
    from planner.ordering.clashes import Clashes
    from planner.ordering.demand import Demand
    from planner.ordering.problem import Offer, PurchaseProblem, Quarter
    from planner.ordering.solving import Solution
    from planner.program import Program
    from planner.program.ordering import Ordering
    from planner.worms.starter import RunIn

DAYS_AHEAD = 366
"""Days ahead for which is ordered unless said."""

PEOPLE_UNKNOWN = 2.4
"""People in a household where none has registered; a round figure, no source."""


@dataclass(frozen=True)
class Asked:
    """What is asked of an order.

    Attributes
    ----------
    from_date, until_date
        First day on which may be ordered, and last hand-over day that is served.
    forecast_file
        Weather forecast, where there is one.
    effort, alternatives_effort
        How hard to search for the cheapest plan and for each alternative.
    accepts_changes
        Where no plan meets every limit, plan with the least change made.
    """

    from_date: dt.date
    until_date: dt.date
    forecast_file: Path | None = None
    effort: Effort = field(default_factory=Effort)
    alternatives_effort: Effort = field(default_factory=lambda: Effort(0.005, 15.0))
    accepts_changes: bool = False


@dataclass(frozen=True)
class Inputs:
    """Rows of the store that an order rests on, by query or table."""

    events: pl.DataFrame
    suppliers: pl.DataFrame
    offers: pl.DataFrame
    outstanding: pl.DataFrame
    live_deliveries: pl.DataFrame
    reconciled: pl.DataFrame
    people: pl.DataFrame
    handed: pl.DataFrame


def plan_order(
    folder: Path,
    program: Program,
    asked: Asked,
    *,
    allocated: Mapping[str, float] | None = None,
    progress: Callable[[str], None],
) -> OrderPlan:
    """Plan the cheapest order for the hand-over days ahead.

    Parameters
    ----------
    folder, program
        Program folder, and its program file as read.
    asked
        Days, forecast and effort.
    allocated
        Bins by model of an allocation, where there is one.
    progress
        Is told what is being done.

    Raises
    ------
    OrderError
        There are no events ahead or no offers, or the search found nothing in time.
    StoreError
        The records cannot be read.
    """
    inputs = read_inputs(folder, asked)
    factors = with_own(read_factors(), program.factors, program.council.name)
    return plan_from(inputs, program, factors, asked, allocated or {}, progress)


def read_inputs(folder: Path, asked: Asked) -> Inputs:
    """Read what an order rests on, as it is at the end of its first day.

    Raises
    ------
    StoreError
        The records cannot be read.
    """
    before = asked.until_date + dt.timedelta(days=1)
    next_day = asked.from_date + dt.timedelta(days=1)
    with open_store(folder, read_only=True) as store:
        return Inputs(
            store.query("upcoming_events", from_date=next_day, before_date=before),
            store.records("suppliers"),
            store.records("offers"),
            store.query("orders_outstanding", as_of=asked.from_date),
            store.query("live_deliveries", before_date=next_day),
            store.query("stock_reconciled", as_of=asked.from_date),
            store.query("registered_people"),
            store.query("handovers_by_month", before_date=next_day),
        )


def plan_from(
    inputs: Inputs,
    program: Program,
    factors: FactorTable,
    asked: Asked,
    allocated: Mapping[str, float],
    progress: Callable[[str], None],
) -> OrderPlan:
    """Plan an order from rows that have been read; see `plan_order`."""
    events = events_of(inputs.events, asked)
    shares, notes = model_shares(program, inputs.handed, allocated)
    progress(f"Finding quantities for {len(events.event_ids)} hand-over days")
    demand = plan_demand(events, shares, _bins_in_stock(inputs), program.ordering)
    bedding, offers = _bedding_and_offers(inputs, program, factors, demand)
    starter = starter_kg(program, factors, inputs.people)
    laws = loss_laws(inputs.suppliers, inputs.live_deliveries, program.ordering.transit_loss_share)
    quarters = budget_quarters(program.ordering.quarters, inputs.outstanding)
    slots = plan_slots(
        inputs.suppliers, inputs.offers, offers, _calendar(program, asked, events, quarters)
    )
    problem = assemble(
        demand,
        slots,
        read_suppliers(inputs.suppliers),
        laws,
        _coming(inputs, asked),
        program.ordering,
        starter,
        bedding.bought_kg,
        quarters,
    )
    problem, solution, clashes = _bought(problem, asked, progress)
    alternatives = _other_choices(problem, solution, asked, progress)
    run_ins = _run_ins(program, factors, starter, _people(inputs.people))
    return OrderPlan(
        asked.from_date, program.ordering, demand, problem, solution, clashes, alternatives,
        laws, starter, bedding, run_ins, inputs.reconciled, tuple(notes),
    )  # fmt: skip


def _bought(
    problem: PurchaseProblem, asked: Asked, progress: Callable[[str], None]
) -> tuple[PurchaseProblem, Solution | None, Clashes | None]:
    """Search for the cheapest plan, and for the least change where there is none."""
    progress(f"Searching for the cheapest of {len(problem.lines):,} possible order lines")
    solution = solve(problem, asked.effort)
    clashes: Clashes | None = None
    if solution is None:
        progress("No plan meets every limit; finding the least change")
        clashes = find_clashes(problem)
        if asked.accepts_changes:
            problem = with_changes(problem, clashes.least)
            solution = solve(problem, asked.effort)
    if solution is not None:
        solution = as_late_as_useful(problem, solution)
    return problem, solution, clashes


def _other_choices(
    problem: PurchaseProblem,
    solution: Solution | None,
    asked: Asked,
    progress: Callable[[str], None],
) -> tuple[Alternative, ...]:
    if solution is None:
        return ()
    progress("Trying other choices of suppliers")
    return find_alternatives(problem, solution, asked.alternatives_effort)


def _bedding_and_offers(
    inputs: Inputs, program: Program, factors: FactorTable, demand: Demand
) -> tuple[BeddingPlan, dict[str, Offer]]:
    """Find the bedding mix, and the offers of everything that is needed."""
    settings = program.ordering
    wanted = [*demand.bins, *_materials(settings)]
    found = read_offers(inputs.offers, wanted, settings.species)
    households = int(demand.bedding_households_count[-1])
    bedding = plan_bedding(program, factors, demand.model_shares, households, [*found.values()])
    items = [*demand.bins, *bedding.bought_kg]
    offers = {code: one for code, one in found.items() if one.is_live or one.item in items}
    _check_offered(items, offers, settings.species)
    return bedding, offers


def _calendar(
    program: Program, asked: Asked, events: Events, quarters: tuple[Quarter, ...]
) -> Calendar:
    settings = program.ordering
    return Calendar(
        asked.from_date,
        events.event_dates,
        WorkingDays(settings.public_holidays, settings.receiving_weekdays),
        _weather(program, asked),
        settings.holding_days_most,
        quarters,
    )


def _coming(inputs: Inputs, asked: Asked) -> Coming:
    return Coming(
        asked.from_date,
        inputs.outstanding,
        _in_stock_kg(inputs.reconciled, "bedding"),
        _in_stock_kg(inputs.reconciled, WORMS),
        _bins_in_stock(inputs),
    )


def _bins_in_stock(inputs: Inputs) -> dict[str, int]:
    """Whole usable bins in store, by model."""
    return {
        row["stock_item"]: max(0, int(row["in_stock_quantity"]))
        for row in inputs.reconciled.filter(item_kind="bins").iter_rows(named=True)
    }


def _in_stock_kg(reconciled: pl.DataFrame, item_kind: str) -> float:
    rows = reconciled.filter(item_kind=item_kind)
    return max(0.0, float(rows["in_stock_quantity"].sum()))


def events_of(rows: pl.DataFrame, asked: Asked) -> Events:
    """Arrange the hand-over days ahead.

    Raises
    ------
    OrderError
        There are none.
    """
    if rows.is_empty():
        message = (
            f"There are no hand-over days after {asked.from_date}, up to {asked.until_date}. Load "
            "the sheet events with the days to come, or name another first day with --from."
        )
        raise OrderError(message)
    names = [venue or area for venue, area in rows.select("venue", "area_name").iter_rows()]
    return Events(
        tuple(rows["event_id"]),
        tuple(rows["event_date"]),
        tuple(names),
        rows["places_count"].to_numpy().astype(np.int64),
    )


def _people(rows: pl.DataFrame) -> float:
    households, people = rows.select("households_count", "people_count").row(0)
    return people / households if households else PEOPLE_UNKNOWN


def starter_kg(program: Program, factors: FactorTable, registered: pl.DataFrame) -> float:
    """Worms for a bin, by the program file's rule [kg].

    Parameters
    ----------
    program, factors
        The rule, and the feed that worms take.
    registered
        Query registered_people.
    """
    settings = program.ordering
    people = _people(registered)
    if settings.starter_rule == "mass":
        return settings.worms_kg_per_bin
    return starter_for_scraps_kg(
        people,
        settings.scraps_kg_per_person_week,
        settings.scraps_share_at_start,
        factors.find("feed_kg_per_kg_day").value,
        factors.find("startup_share").value,
    )


def _run_ins(
    program: Program, factors: FactorTable, starter_kg: float, people: float
) -> dict[str, RunIn]:
    demand_kg = people * program.ordering.scraps_kg_per_person_week
    return {
        model.model_id: run_in_of_starter(starter_kg, demand_kg, model.tray_area_m2, factors)
        for model in program.bin_models
    }


def _weather(program: Program, asked: Asked) -> Weather:
    forecasts = read_forecast(asked.forecast_file) if asked.forecast_file else {}
    return Weather(
        program.climate.monthly_mean_temperature_c, program.ordering.shipping_window, forecasts
    )


def _materials(settings: Ordering) -> list[str]:
    if settings.bedding is None:
        return list(settings.bedding_kg_per_bin)
    return [one.material for one in settings.bedding.materials]


def _check_offered(items: list[str], offers: Mapping[str, Offer], species: tuple[str, ...]) -> None:
    """Name what is needed and not offered by anybody."""
    offered = {offer.item for offer in offers.values()}
    lacking = [item for item in items if item not in offered]
    if WORMS not in offered:
        lacking.append(f"worms ({' or '.join(species)})")
    if lacking:
        message = (
            f"The sheet offers has no offer of {', '.join(lacking)}. Load offers of "
            "suppliers; item_id must be a bin model of program.toml, a species of "
            "ordering.species, or a bedding material of ordering.bedding."
        )
        raise OrderError(message)
