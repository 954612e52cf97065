"""The journey of an order, from the records and the program file to the plan.

Records and request (`inputs`) give the hand-over days. These give the quantities
(`demand`, `assembling`), the suppliers' calendars give the days of delivery (`slots`),
and both make the purchase problem (`assembling`). `solving` searches it for the cheapest
plan; where there is none, `clashes` says what must give way; `alternatives` tries other
suppliers. `plan` holds what came out, for the reports.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

from planner.factors import read_factors, with_own
from planner.messages import say
from planner.ordering.alternatives import find_alternatives
from planner.ordering.assembling import assemble, loss_laws, plan_bedding
from planner.ordering.changes import with_changes
from planner.ordering.clashes import find_clashes
from planner.ordering.climate import climate_options
from planner.ordering.commitments import budget_quarters, commit, overdue_notes, position_on
from planner.ordering.delivery_days import postpone_deliveries
from planner.ordering.demand import Events, plan_demand
from planner.ordering.inputs import (
    Inputs,
    events_of,
    model_shares,
    people_per_household,
    promised_notes,
    read_inputs,
    starter_kg,
    turnout_notes,
    with_own_turnout,
    with_top_ups,
)
from planner.ordering.offers import (
    check_offered,
    packing_limits,
    read_offers,
    read_suppliers,
    too_soon_notes,
)
from planner.ordering.plan import OrderPlan, ServiceCost, excess_notes
from planner.ordering.request import OrderRequest
from planner.ordering.shipping_window import Weather, read_forecast
from planner.ordering.slots import Calendar, Lateness, plan_slots, read_lateness
from planner.ordering.solving import solve, try_solving
from planner.ordering.working_days import WorkingDays
from planner.worms.run_in import run_in_of_starter

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from planner.arrays import Numbers
    from planner.factors import FactorTable
    from planner.ordering.assembling import BeddingPlan
    from planner.ordering.clashes import Clashes
    from planner.ordering.commitments import InventoryPosition
    from planner.ordering.demand import Demand
    from planner.ordering.problem import Offer, PurchaseProblem
    from planner.ordering.shipping_window import TravelLimits
    from planner.ordering.solving import Solution
    from planner.program import Program
    from planner.program.ordering import Ordering


def plan_order(
    folder: Path,
    program: Program,
    request: OrderRequest,
    *,
    allocated: Mapping[str, float],
    progress: Callable[[str], None],
) -> OrderPlan:
    """Plan the cheapest order for the hand-over days ahead.

    Parameters
    ----------
    allocated
        Bins by model of an allocation; empty where there is none.
    progress
        Receives a sentence on each step.

    Raises
    ------
    OrderError
        There are no events ahead or no offers, or the search found nothing in time.
    StoreError
        The records cannot be read.
    """
    inputs = read_inputs(folder, request, program)
    factors = with_own(read_factors(), program.factors, program.council.name)
    program = with_own_turnout(program, inputs.turnout)
    case = state_problem(inputs, program, factors, request, allocated, progress)
    problem, solution, clashes = _bought(case.problem, request, progress)
    made = replace(case, problem=problem, solution=solution, clashes=clashes)
    if solution is None:
        return made
    progress(say("order.doing.suppliers"))
    others = find_alternatives(problem, solution, request.alternatives_effort)
    made = replace(made, alternatives=others, notes=(*excess_notes(made), *made.notes))
    progress(say("order.doing.levels"))

    def stated_at(settings: Ordering) -> OrderPlan:
        at_level = program.model_copy(update={"ordering": settings})
        return state_problem(inputs, at_level, factors, request, allocated, lambda _: None)

    made = replace(made, service_costs=costs_by_level(made, stated_at, request))
    progress(say("order.doing.climate"))
    options = climate_options(
        made,
        inputs.suppliers,
        packing_limits(made.calendar.weather.plain, factors),
        # where stress begins: the lower end of what is called lethal
        factors.find("feeding_highest_c").limits[0],
        request.alternatives_effort,
    )
    return replace(made, climate_options=options)


SERVICE_LEVELS = (0.8, 0.9, 0.95)
"""Chances that no hand-over day runs short, whose costs are set next to each other."""


def costs_by_level(
    made: OrderPlan, stated_at: Callable[[Ordering], OrderPlan], request: OrderRequest
) -> tuple[ServiceCost, ...]:
    """Find what levels of service cost, the level of each event rising with the overall one.

    The plan is `made` at the program file's level; the problem is `stated_at` others.
    """
    settings, found = made.settings, []
    per_event = (1.0 - settings.event_service_level) / (1.0 - settings.overall_service_level)
    for level in sorted({*SERVICE_LEVELS, settings.overall_service_level}):
        if level == settings.overall_service_level:
            found.append(ServiceCost(level, made.solution.cost if made.solution else None))
            continue
        event_level = max(0.5, 1.0 - per_event * (1.0 - level))
        update = {"overall_service_level": level, "event_service_level": event_level}
        problem = stated_at(settings.model_copy(update=update)).problem
        changes = made.clashes.least if made.clashes else ()
        changed = with_changes(problem, changes)
        solution, is_decided = try_solving(changed, request.alternatives_effort)
        found.append(ServiceCost(level, solution.cost if solution else None, is_decided))
    return _never_falling(found, settings.overall_service_level)


def _never_falling(found: list[ServiceCost], stated: float) -> tuple[ServiceCost, ...]:
    """Let no level below the stated one cost more than a higher one, whose plan serves it too."""
    least, kept = inf, []
    for one in reversed(found):
        is_below = one.overall_level < stated and one.cost is not None and one.cost > least
        kept.append(replace(one, cost=least) if is_below else one)
        least = min(least, inf if one.cost is None else one.cost)
    return tuple(reversed(kept))


def state_problem(
    inputs: Inputs,
    program: Program,
    factors: FactorTable,
    request: OrderRequest,
    allocated: Mapping[str, float],
    progress: Callable[[str], None],
) -> OrderPlan:
    """State the purchase problem with all that it rests on: a plan without a solution yet."""
    settings = program.ordering
    events = events_of(inputs.events, request)
    shares, notes = model_shares(program, inputs.handed, allocated)
    progress(say("order.doing.quantities", len(events.event_ids)))
    lateness = read_lateness(inputs.committed)
    position = position_on(
        request.from_date, inputs.committed, inputs.reconciled, lateness, settings.on_time_level
    )
    demand = plan_demand(events, shares, position.bins_in_stock, settings)
    calendar = _calendar(inputs, program, request, events, lateness, factors)
    packings = packing_limits(calendar.weather.plain, factors)
    bedding, offers = _bedding_and_offers(inputs, program, factors, demand, position, packings)
    starter = starter_kg(program, factors, inputs.people)
    demand = with_top_ups(demand, inputs.promised.starters_count(starter))
    laws = loss_laws(inputs.suppliers, inputs.live_deliveries, settings.transit_loss_share)
    slots = plan_slots(inputs.suppliers, inputs.offers, offers, calendar)
    commitments = commit(
        position, slots.offers, calendar, inputs.suppliers, demand, settings, starter
    )
    problem = assemble(
        demand,
        slots,
        read_suppliers(inputs.suppliers),
        laws,
        commitments,
        settings,
        starter,
        bedding.bought_kg,
        calendar.quarters,
    )
    check_offered(problem, settings.species)
    run_ins = _run_ins(program, factors, starter, people_per_household(inputs.people))
    warnings = [
        *too_soon_notes(problem), *commitments.warnings, *overdue_notes(position),
        *turnout_notes(events, settings, inputs.turnout),
        *promised_notes(inputs.promised), *notes,
    ]  # fmt: skip
    return OrderPlan(
        request.from_date, settings, demand, problem, None, None, (), laws, starter, bedding,
        calendar, position, lateness, run_ins, inputs.reconciled, tuple(warnings),
    )  # fmt: skip


def _bought(
    problem: PurchaseProblem, request: OrderRequest, progress: Callable[[str], None]
) -> tuple[PurchaseProblem, Solution | None, Clashes | None]:
    """Search for the cheapest plan, and for the least change where there is none."""
    progress(say("order.doing.search", count=len(problem.lines)))
    solution = solve(problem, request.effort)
    clashes: Clashes | None = None
    if solution is None:
        progress(say("order.doing.clash"))
        clashes = find_clashes(problem)
        if request.accepts_changes:
            problem = with_changes(problem, clashes.least)
            solution = solve(problem, request.effort, clashes.enough)
    if solution is not None:
        solution = postpone_deliveries(problem, solution)
    return problem, solution, clashes


def _bedding_and_offers(
    inputs: Inputs,
    program: Program,
    factors: FactorTable,
    demand: Demand,
    position: InventoryPosition,
    packings: Mapping[str, TravelLimits],
) -> tuple[BeddingPlan, dict[str, Offer]]:
    """Find the bedding mix, and the offers of everything that is needed."""
    settings, recipe = program.ordering, program.ordering.bedding
    of_recipe = settings.bedding_kg_per_bin if recipe is None else recipe.materials
    materials = [one if isinstance(one, str) else one.material for one in of_recipe]
    found = read_offers(inputs.offers, [*demand.bins, *materials], settings.species, packings)
    households = int(demand.bedding_households_count[-1])
    bedding = plan_bedding(
        program,
        factors,
        demand.model_shares,
        households,
        [*found.values()],
        has_stock=position.has_bedding,
    )
    items = [*demand.bins, *bedding.bought_kg]
    offers = {code: one for code, one in found.items() if one.is_live or one.item in items}
    return bedding, offers


def _calendar(
    inputs: Inputs,
    program: Program,
    request: OrderRequest,
    events: Events,
    lateness: Mapping[str, Lateness],
    factors: FactorTable,
) -> Calendar:
    settings = program.ordering
    forecasts = read_forecast(request.forecast_file) if request.forecast_file else {}
    normals_c = program.climate.monthly_mean_temperature_c
    return Calendar(
        request.from_date,
        events.event_dates,
        WorkingDays(settings.public_holidays, settings.receiving_weekdays),
        Weather.of(normals_c, settings.shipping_window, factors, forecasts),
        settings.holding_days_most,
        budget_quarters(settings.quarters, inputs.committed),
        {
            supplier: lateness.get(supplier, Lateness()).buffer_days(settings.on_time_level)
            for supplier in inputs.suppliers["supplier_id"]
        },
        settings.order_slack_days,
    )


def _run_ins(
    program: Program, factors: FactorTable, starter_kg: float, people: float
) -> dict[str, Numbers]:
    demand_kg = people * program.ordering.scraps_kg_per_person_week
    return {
        model.model_id: run_in_of_starter(starter_kg, demand_kg, model.tray_area_m2, factors)
        for model in program.bin_models
    }
