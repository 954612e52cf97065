"""One plan: settings, world, allocation and outcome; what clashes; and scenarios beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.errors import EstimateError, ProgramError
from planner.messages import in_words, paper, said, say, told, unit_key
from planner.program.sizing import Scenario
from planner.sizing.allocation import (
    LEAST_COST,
    SMALL_PROBLEM,
    NoPlanError,
    allocate,
    limit_on,
    total_row,
)
from planner.sizing.building import build_problem
from planner.sizing.clash import find_clash
from planner.sizing.outcome import by_year, outcome_of
from planner.sizing.world import changed_world
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.messages import Messages
    from planner.program import Program
    from planner.sizing.allocation import Allocation, Problem
    from planner.sizing.clash import Change, Clash
    from planner.sizing.context import Context
    from planner.sizing.draws import Draws
    from planner.sizing.outcome import Outcome
    from planner.sizing.settings import Settings
    from planner.sizing.world import World


GAP_OF_SMALL, GAP_OF_LARGE = 1e-4, 5e-4
"""Up to SMALL_PROBLEM variables the plan is solved to a hundredth of one per cent, beyond to a
twentieth."""

SHARE_DIGITS = 3

ALLOCATION_FILE = "allocation.csv"
"""What `planner order` begins from."""

ALLOCATION_HEADINGS = ("area_id", "dwelling", "model_id", "round", "hand_over_month", "bins")


@dataclass(frozen=True)
class Plan:
    """A plan that keeps every limit, and what it comes to in every draw."""

    settings: Settings
    problem: Problem
    allocation: Allocation
    outcome: Outcome
    labels: tuple[str, ...]  # area and dwelling of each group, as NORTH/house
    # shape (draws, years): tonnes of each year with the bins that were given before [t]
    year_t: Numbers


def relative_gap(problem: Problem) -> float:
    """Gap to which a plan of this size is solved."""
    return GAP_OF_SMALL if problem.choices.count <= SMALL_PROBLEM else GAP_OF_LARGE


def make_plan(context: Context, settings: Settings, world: World, earlier_kg: Numbers) -> Plan:
    """Choose the bins of a plan and work out what they come to.

    Parameters
    ----------
    earlier_kg
        Shape (draws, months): scraps that bins given before keep out of landfill [kg].

    Raises
    ------
    EstimateError
        No plan keeps every limit; the message names those that clash and the least change.
    ProgramError
        The least cost is asked for and no target is set.
    """
    earlier_by_year = by_year(earlier_kg) / KG_PER_T
    problem = build_problem(context, settings, world)
    if settings.objective == LEAST_COST:
        problem = _with_yearly_target(problem, settings, earlier_by_year)
    try:
        found = allocate(problem, settings.objective, relative_gap(problem))
    except NoPlanError:
        message = clash_in_words(find_clash(problem), settings.name)
        raise EstimateError(message) from None
    outcome = outcome_of(context, settings, world, found.bins_by_group)
    return Plan(
        settings,
        problem,
        found,
        outcome,
        context.groups.labels,
        outcome.kept_out_t_by_year + earlier_by_year,
    )


def without_money(problem: Problem) -> Problem:
    """Leave the limits of money out, and the target."""
    names = [limit.name for limit in problem.limits if limit.name.startswith("budget")]
    return problem.without("target", *names)


def clash_in_words(clash: Clash, plan_name: str) -> str:
    """Say which limits clash and what the least change is."""

    def in_language(words: Messages) -> str:
        # plans of the planner's own have keys; the council's stay as it names them
        key = f"plan.scenario.{unit_key(plan_name)}"
        name = words.text(key)
        lines = [words.say("plan.clash", plan=plan_name if name == key else name)]
        lines += [f"  - {in_words(limit.words, words)}" for limit in clash.limits]
        if clash.changes:
            lines.append(words.say("plan.clash.change"))
            lines += [f"  - {_change_in_words(change, words)}" for change in clash.changes]
        return "\n".join(lines)

    return told(in_language)


def _change_in_words(change: Change, words: Messages) -> str:
    limit, key = change.limit, change.limit.key
    if limit.share is not None:
        lower = np.floor(change.to_value * 10**SHARE_DIGITS) / 10**SHARE_DIGITS
        # as it is typed into the program file, with a point in every language
        value, before = f"{max(0.0, lower):g}", f"{change.from_value:g}"
        return words.say("plan.clash.instead", key=key, value=value, before=before)
    more = change.to_value - change.from_value
    if limit.name == "target":
        return words.say("plan.clash.lower", key=key, tonnes=words.decimal(-more, "#,##0.0"))
    if limit.name.startswith("budget"):
        return words.say("plan.clash.more", key=key, count=int(np.ceil(more)))
    whole = int(np.floor(change.to_value) if more < 0 else np.ceil(change.to_value))
    before = words.decimal(change.from_value, "#,##0")
    return words.say("plan.clash.instead", key=key, value=whole, before=before)


def _with_yearly_target(problem: Problem, settings: Settings, earlier_by_year: Numbers) -> Problem:
    """Ask for the target's tonnes in its year, less what bins given before bring."""
    if settings.target_t is None:
        raise ProgramError(say("plan.fail.no_target"))
    earlier = float(earlier_by_year[1:, settings.target_year - 1].mean())
    words = said(
        "plan.limit.target",
        tonnes=paper().decimal(settings.target_t, "#,##0.#"),
        year=settings.target_year,
        earlier=paper().decimal(earlier, "#,##0.#"),
    )
    row = total_row(problem.choices.target_tonnes)
    limit = limit_on("target", words, row, low=settings.target_t - earlier, unit="t")
    return problem.with_limits(replace(limit, key="sizing.target_t"))


def allocation_frame(plan: Plan) -> pl.DataFrame:
    """Arrange the bins by area, dwelling, model and round, under ALLOCATION_HEADINGS."""
    rows: list[list[str | int]] = []
    bins = plan.allocation.bins_by_group
    for group, model, place in np.argwhere(bins > 0):
        area_id, _, dwelling = plan.labels[group].rpartition("/")
        one = plan.settings.rounds[place]
        rows.append(
            [
                area_id,
                dwelling,
                plan.settings.models[model].model_id,
                one.name,
                f"{one.month:%Y-%m-%d}",
                int(bins[group, model, place]),
            ]
        )
    return pl.DataFrame(rows, schema=ALLOCATION_HEADINGS, orient="row")


DEARER = 1.25
QUARTER = 0.25


@dataclass(frozen=True)
class Compared:
    """A scenario and its plan, or why there is none."""

    name: str
    plan: Plan | None
    reason: str = ""  # why there is no plan


def scenarios_of(program: Program) -> tuple[Scenario, ...]:
    """List the scenarios of the program file; four common ones where it has none."""
    stated = program.sizing.scenarios
    if stated:
        return stated
    price = max(model.unit_price for model in program.bin_models)
    return (
        Scenario(name="Fewer bins, with workshops", with_workshop=True),
        Scenario(name="A bin a quarter dearer", price_multiplier=DEARER),
        Scenario(name="A co-payment", copayment=float(round(QUARTER * price))),
        Scenario(name="Flats first", apartments_least_share=0.5),
    )


def compare(
    context: Context,
    main: Plan,
    world: World,
    scenarios: Sequence[Scenario],
    draws: Draws,
    earlier_kg: Numbers,
) -> tuple[Compared, ...]:
    """Make the plan of each scenario on the draws of the main one, which met this world.

    Draw by draw, both plans meet the same households, worms and prices, so that the
    difference between them is told apart from the chance that both share.

    References
    ----------
    Law, A. M. (2015), Simulation Modeling and Analysis, 5th ed., McGraw-Hill, section 11.2
    (common random numbers).
    """
    found = []
    for scenario in scenarios:
        settings = main.settings.changed_by(scenario)
        try:
            # without a name, so that it goes before the next is made
            plan = make_plan(
                context,
                settings,
                changed_world(context, draws, main.settings, world, settings),
                earlier_kg,
            )
        except EstimateError as error:
            found.append(Compared(scenario.name, None, error.said))
        else:
            found.append(Compared(scenario.name, plan))
    return tuple(found)
