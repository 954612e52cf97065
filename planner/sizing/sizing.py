"""Sizing: everything a budget hearing asks, from the program file and the records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.factors.draws import variance_shares
from planner.messages import said, say
from planner.progress import Progress
from planner.sizing.context import context_of
from planner.sizing.draws import draw_beliefs
from planner.sizing.frontier import (
    bins_needed,
    chance_of,
    frontier,
    next_tonne_cost,
    worth_of_limits,
)
from planner.sizing.inputs import inputs_of
from planner.sizing.outcome import by_year, central_draw, outcome_of
from planner.sizing.plan import (
    compare,
    make_plan,
    relative_gap,
    scenarios_of,
    without_money,
)
from planner.sizing.world import earlier_bins, make_world
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.factors import FactorTable
    from planner.factors.draws import VarianceShares
    from planner.program import Program
    from planner.sizing.allocation import Allocation
    from planner.sizing.context import Context, Evidence, Measured, SurveyedRoutes
    from planner.sizing.draws import Draws
    from planner.sizing.frontier import Frontier, Needed, Worth
    from planner.sizing.inputs import Inputs
    from planner.sizing.outcome import Outcome
    from planner.sizing.plan import Compared, Plan
    from planner.sizing.settings import Settings
    from planner.sizing.world import World


WEEKS_PER_YEAR = 52.0
"""As handbooks count a year."""


@dataclass(frozen=True)
class Step:
    """One step from the rule of thumb to the plan."""

    # its id, and what changes in it
    name: str
    words: str
    tonnes: float  # tonnes in a year after the step


def rule_steps(
    table: FactorTable, context: Context, world: World, outcome: Outcome, bins: Integers
) -> tuple[Step, ...]:
    """Walk from the rule of thumb to the plan's first year, one difference at a time.

    The rule: bins × share in use at mid-year × kg a week × 52 × share new to composting ×
    share in the residual bin. Each step puts the plan's central number in the rule's place.

    Parameters
    ----------
    bins
        Shape (groups, models, rounds).
    """
    count = float(bins.sum())
    in_use = (
        table.find("in_use_share", "after_6_months").value
        + table.find("in_use_share", "after_12_months").value
    ) / 2.0
    feed = table.find("fed_kg_per_household_week").value
    landfill = table.find("new_composter_share").value * table.find("residual_bin_share").value
    plan = _plan_means(context, world, bins)
    first_year = float(outcome.kept_out_t_by_year[0, 0])
    value = count * in_use * feed * WEEKS_PER_YEAR * landfill / KG_PER_T
    compost = table.find("compost_bin_kg_per_household_year").value * count / KG_PER_T
    steps = [_step("compost_bin", compost), _step("rule", value)]
    for name, of_the_rule in (
        ("in_use", in_use),
        ("run_in", 1.0),
        ("feed", feed),
        ("landfilled", landfill),
        ("kept_out", 1.0),
        ("calendar", WEEKS_PER_YEAR),
    ):
        value *= plan[name] / of_the_rule
        steps.append(_step(name, value))
    steps.append(_step("first_year", first_year))
    return tuple(steps)


def _step(name: str, tonnes: float) -> Step:
    return Step(name, said(f"plan.rule.{name}"), tonnes)


def _plan_means(context: Context, world: World, bins: Integers) -> dict[str, float]:
    """Means of a planned bin over its first twelve months, central draw, by step of the walk."""
    weeks_there = weeks_in_use = weeks_full = fed = landfilled = kept = 0.0
    for code, models in enumerate(world.bins):
        of_dwelling = np.flatnonzero(context.groups.dwelling == code)
        for model, one in enumerate(models):
            for place in range(bins.shape[2]):
                given = bins[of_dwelling, model, place]
                if not given.any():
                    continue
                first = int(np.argmax(one.in_use_weeks[0, :, place] > 0))
                year = slice(first, first + MONTHS_PER_YEAR)
                count = float(given.sum())
                in_use = float(one.in_use_weeks[0, year, place].sum())
                full = float(one.full_feed_weeks[0, year, place].sum())
                feed = world.feed_kg_per_week[0, of_dwelling]
                weeks_there += count * float(one.weeks_there[year, place].sum())
                weeks_in_use += count * in_use
                weeks_full += count * full
                fed += full * float(given @ feed)
                landfilled += full * float(given @ (feed * world.landfill_share[of_dwelling]))
                kept += full * float(given @ (feed * world.kept_out_share[0, of_dwelling]))
    return {
        "in_use": _over(weeks_in_use, weeks_there),
        "run_in": _over(weeks_full, weeks_in_use),
        "feed": _over(fed, weeks_full),
        "landfilled": _over(landfilled, fed),
        "kept_out": _over(kept, landfilled),
        "calendar": _over(weeks_there, float(bins.sum())),
    }


def _over(part: float, whole: float) -> float:
    """Divide; 1 where there is nothing to divide by, as without bins, of which all steps are 0."""
    return part / whole if whole > 0.0 else 1.0


DRIVER_DRAWS = 512
"""Base sample of the variance shares; the world is worked out for each driver and twice more."""

DRIVER_STREAM = 1
"""Added to the seed, so that the drivers' points are not those of the plan."""


@dataclass(frozen=True)
class Sizing:
    """The answers."""

    program: Program
    table: FactorTable
    context: Context
    inputs: Inputs
    draws: Draws
    world: World  # what the main plan meets, draw by draw
    main: Plan
    # shape (draws, months): tonnes that bins given before keep out of landfill [t]
    earlier_t: Numbers
    frontier: Frontier  # tonnes along the budget
    # cost of one more tonne beyond the plan's; None where none can be had
    next_tonne_cost: float | None
    binding: tuple[Worth, ...]  # limits that bind, with what one step of each is worth
    chance: float | None  # chance of meeting the target; None without a target
    needed: Needed | None  # bins that meet it as surely as wished; None without a target
    drivers: VarianceShares  # shares of variance of tonnes, net emissions and cost per tonne
    scenarios: tuple[Compared, ...]
    steps: tuple[Step, ...]  # from the rule of thumb to the plan
    notes: tuple[str, ...]  # what was taken for want of better


def size(
    program: Program,
    table: FactorTable,
    settings: Settings,
    evidence: Evidence,
    measured: Measured | None,
    routes: SurveyedRoutes | None,
    progress: Progress,
) -> Sizing:
    """Answer how many bins, to whom, for what, how sure.

    Parameters
    ----------
    program, table, settings
        The program file, the published numbers, and what the plan must keep to.
    evidence, measured, routes
        What is counted, and what surveys have measured, where they have.

    Raises
    ------
    EstimateError
        There is no area, or no plan keeps every limit.
    ProgramError
        The program file asks for what there is not.
    """
    context = context_of(program, table, evidence, measured, routes)
    inputs = inputs_of(program, table, context.groups, evidence, measured, routes)
    seed = program.method.seed
    times = program.sizing.draws_count
    progress(say("plan.doing.draws", count=len(inputs.beliefs), times=times))
    draws = draw_beliefs(inputs.beliefs, inputs.correlations, program.sizing.draws_count, seed)
    earlier_kg = earlier_bins(context, settings, draws)
    progress(say("plan.doing.bins"))
    world = make_world(context, settings, draws)
    main = make_plan(context, settings, world, earlier_kg)
    progress(say("plan.doing.frontier"))
    gap = relative_gap(main.problem)
    free = without_money(main.problem)
    line = frontier(free, main.allocation, _valued_as(context, main, world), gap)
    dearer = next_tonne_cost(free, main.allocation.tonnes)
    binding = worth_of_limits(main.problem, main.allocation, settings.objective)
    chance, needed = _target(context, main, world, earlier_kg)
    progress(say("plan.doing.drivers"))
    drivers = _drivers(context, settings, inputs, main, seed)
    progress(say("plan.doing.scenarios"))
    return Sizing(
        program=program,
        table=table,
        context=context,
        inputs=inputs,
        draws=draws,
        world=world,
        main=main,
        earlier_t=earlier_kg / KG_PER_T,
        frontier=line,
        next_tonne_cost=dearer,
        binding=binding,
        chance=chance,
        needed=needed,
        drivers=drivers,
        scenarios=compare(context, main, world, scenarios_of(program), draws, earlier_kg),
        steps=rule_steps(table, context, world, main.outcome, main.allocation.bins_by_group),
        notes=(*settings.notes, *_notes(context, settings, inputs, measured, routes)),
    )


def _valued_as(
    context: Context, main: Plan, world: World
) -> Callable[[Allocation], tuple[float, float]]:
    """Give what any bins come to as the plan's do: best estimates of tonnes, and of their cost."""
    world = central_draw(world)

    def valued(allocation: Allocation) -> tuple[float, float]:
        found = outcome_of(context, main.settings, world, allocation.bins_by_group)
        return float(found.kept_out_t[0]), float(found.cost[0]) - world.fixed_cost

    return valued


def _target(
    context: Context, main: Plan, world: World, earlier_kg: Numbers
) -> tuple[float | None, Needed | None]:
    settings = main.settings
    if settings.target_t is None:
        return None, None
    year = settings.target_year - 1
    earlier = by_year(earlier_kg)[:, year] / KG_PER_T

    def tonnes_of(allocation: Allocation) -> Numbers:
        bins = allocation.bins_by_group
        outcome = outcome_of(context, settings, world, bins)
        return np.asarray(outcome.kept_out_t_by_year[:, year] + earlier)

    needed = bins_needed(
        without_money(main.problem), tonnes_of, settings.target_t, settings.target_confidence
    )
    return chance_of(main.year_t[:, year], settings.target_t), needed


def _drivers(
    context: Context, settings: Settings, inputs: Inputs, main: Plan, seed: int
) -> VarianceShares:
    """Shares of variance of tonnes, net emissions and cost per tonne over the horizon."""
    uncertain = [belief for belief in inputs.beliefs if belief.low < belief.high]
    members: dict[str, list[int]] = {}
    for place, belief in enumerate(uncertain):
        members.setdefault(belief.driver, []).append(place)
    central = {belief.name: belief.value for belief in inputs.beliefs}

    def results(percentiles: Numbers) -> Numbers:
        draws: Draws = {
            name: np.full(1 + percentiles.shape[0], value) for name, value in central.items()
        }
        for belief, column in zip(uncertain, percentiles.T, strict=True):
            draws[belief.name][1:] = belief.quantile(column)
        world = make_world(context, settings, draws)
        outcome = outcome_of(context, settings, world, main.allocation.bins_by_group)
        columns = (outcome.kept_out_t, outcome.net_t_co2e, outcome.cost_per_t)
        return np.stack(columns, axis=1)[1:]

    return variance_shares(results, members, DRIVER_DRAWS, seed + DRIVER_STREAM)


def _notes(
    context: Context,
    settings: Settings,
    inputs: Inputs,
    measured: Measured | None,
    routes: SurveyedRoutes | None,
) -> list[str]:
    notes = []
    if inputs.uses_take_up:
        notes.append("demand")
    if measured is None:
        notes.append("no_followup")
    if routes is None:
        notes.append("no_baseline")
    if context.other_cost_per_bin(settings) is None:
        notes.append("no_other_cost")
    if settings.fixed_cost is None and context.ledger_fixed_cost is None:
        notes.append("no_fixed_cost")
    return [said(f"plan.note.{name}") for name in notes]
