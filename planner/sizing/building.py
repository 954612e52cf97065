"""Build the allocation of one plan from its settings and what bins are expected to do."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from planner.diversion.planned import alike
from planner.messages import paper
from planner.sizing.problem import (
    Choices,
    Limit,
    Problem,
    at_least,
    at_most,
    rows_by,
    share_floor,
    total_row,
)
from planner.tables import DWELLINGS
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.sizing.context import Context
    from planner.sizing.settings import Settings
    from planner.sizing.world import World

FLATS = DWELLINGS.index("apartment")
MONEY_STEP_SHARE = 0.01
"""One more of the budget is one per cent of it: a single unit of money buys no bin."""


@dataclass(frozen=True)
class Worths:
    """What one bin is expected to do and cost, each (groups, models, rounds)."""

    tonnes: NDArray[np.float64]
    target_tonnes: NDArray[np.float64]
    net_t_co2e: NDArray[np.float64]
    cost: NDArray[np.float64]


def expected_worths(context: Context, settings: Settings, world: World) -> Worths:
    """Mean over the draws of what one bin keeps out and avoids; its central cost.

    `target_tonnes` are those of the plan's year of the target alone. The mean is taken of
    the product by draw, so that inputs which go together count as they do.
    """
    shape = (context.groups.count, len(settings.models), len(settings.rounds))
    tonnes, in_year, net = np.zeros((3, *shape))
    year = slice(
        MONTHS_PER_YEAR * (settings.target_year - 1), MONTHS_PER_YEAR * settings.target_year
    )
    feed, share = world.feed_kg_per_week[1:], world.kept_out_share[1:]
    rates = world.rates
    draws = feed.shape[0]
    kept = feed * share / KG_PER_T
    borne = feed * world.scenario_share[1:] / KG_PER_T
    fed = feed / KG_PER_T
    for code in range(len(DWELLINGS)):
        of_dwelling = np.flatnonzero(context.groups.dwelling == code)
        for model, one in enumerate(world.bins[code]):
            by_month = one.full_feed_weeks[1:]
            weeks = by_month.sum(axis=1)
            in_target = by_month[:, year].sum(axis=1)
            avoided = weeks * rates.avoided_kg_co2e_per_t[1:, None]
            caused = weeks * rates.caused_kg_co2e_per_t[1:, None]
            tonnes[of_dwelling, model] = kept[:, of_dwelling].T @ weeks / draws
            in_year[of_dwelling, model] = kept[:, of_dwelling].T @ in_target / draws
            net[of_dwelling, model] = (
                kept[:, of_dwelling].T @ avoided - fed[:, of_dwelling].T @ caused
            ) / draws
            for part, course in alike(world.leaves[of_dwelling]):
                if not course.any():
                    continue
                there, lost = of_dwelling[part], by_month * course[:, None]
                off = borne[:, there].T
                whole = lost.sum(axis=1)
                tonnes[there, model] -= off @ whole / draws
                in_year[there, model] -= off @ lost[:, year].sum(axis=1) / draws
                saved = whole * rates.avoided_kg_co2e_per_t[1:, None]
                net[there, model] -= off @ saved / draws
    making = rates.making_kg_co2e[1:].mean(axis=0)
    cost = world.price[0] + world.other_cost[0]
    return Worths(
        tonnes,
        in_year,
        (net - making[None, :, None]) / KG_PER_T,
        np.broadcast_to(cost[None, :, None], shape).copy(),
    )


def build_problem(
    context: Context, settings: Settings, world: World, worths: Worths, *, has_budget: bool = True
) -> Problem:
    """Set up choices and limits of a plan.

    Parameters
    ----------
    context, settings, world, worths
        Of the plan. Demand is that of the central draw, rounded to whole households.
    has_budget
        False to leave the money out, as when the whole frontier is asked for.
    """
    demand = np.floor(world.demand[0] + 0.5)
    choices = _choices(context, settings, worths, demand)
    limits = [
        *_demand_limits(context, settings, choices, demand),
        *_round_limits(settings, choices),
        *_stock_limits(settings, choices),
        *_policy_limits(context, settings, choices),
    ]
    if has_budget:
        limits += money_limits(settings, choices, world.fixed_cost)
    most = np.minimum(demand[choices.group, choices.round_], settings.stock[choices.model])
    return Problem(choices, most, tuple(limits))


def _choices(
    context: Context, settings: Settings, worths: Worths, demand: NDArray[np.float64]
) -> Choices:
    """Variables that may be more than nothing."""
    shape = worths.tonnes.shape
    suits = settings.suits[context.groups.dwelling]
    may = suits[:, :, None] & (demand[:, None, :] > 0) & (settings.stock[None, :, None] > 0)
    group, model, round_ = np.nonzero(np.broadcast_to(may, shape))
    place = (group, model, round_)
    return Choices(
        group,
        model,
        round_,
        worths.tonnes[place],
        worths.target_tonnes[place],
        worths.net_t_co2e[place],
        worths.cost[place],
        (shape[0], shape[1], shape[2]),
    )


def _demand_limits(
    context: Context, settings: Settings, choices: Choices, demand: NDArray[np.float64]
) -> list[Limit]:
    """Bins up to each round go to no more households than want one by then."""
    limits = []
    groups, ones = context.groups, np.ones(choices.count)
    for code, dwelling in enumerate(DWELLINGS):
        rows, high = [], []
        members = np.flatnonzero((groups.dwelling == code) & (demand[:, -1] > 0))
        if members.size == 0:
            continue
        row_of = np.full(groups.count, -1)
        row_of[members] = np.arange(members.size)
        for place in range(len(settings.rounds)):
            counted = np.where(choices.round_ <= place, row_of[choices.group], -1)
            rows.append(rows_by(counted, ones, members.size))
            high.append(demand[members, place])
        wanted = settings.in_count(float(demand[members, -1].sum()))
        words = paper().say(f"plan.limit.wanted_{dwelling}", count=wanted)
        limit = at_most(
            f"demand[{dwelling}]",
            words,
            sparse.vstack(rows, format="csr"),
            np.concatenate(high),
            unit=_step("household"),
        )
        limits.append(replace(limit, can_be_relaxed=False))
    return limits


def _step(of_what: str) -> str:
    """Name what one more of a limit is."""
    return paper().say(f"plan.step.{of_what}")


def _round_limits(settings: Settings, choices: Choices) -> list[Limit]:
    limits = []
    for place, one in enumerate(settings.rounds):
        row = total_row((choices.round_ == place) * 1.0)
        if one.hand_over_places is not None:
            count = settings.in_count(one.hand_over_places)
            words = paper().say("plan.limit.hand_over", round=one.name, count=count)
            limit = at_most(
                f"hand_over[{one.name}]", words, row, one.hand_over_places, unit=_step("place")
            )
            limits.append(replace(limit, key=_key("hand_over_places", one.name)))
        if settings.with_workshop and one.workshop_places is not None:
            count, step = settings.in_count(one.workshop_places), _step("place")
            words = paper().say("plan.limit.workshop", round=one.name, count=count)
            limit = at_most(f"workshop[{one.name}]", words, row, one.workshop_places, unit=step)
            limits.append(replace(limit, key=_key("workshop_places", one.name)))
    return limits


def _key(key: str, name: str) -> str:
    return paper().say("plan.key.of", key=key, name=name)


def _stock_limits(settings: Settings, choices: Choices) -> list[Limit]:
    limits = []
    for place, model in enumerate(settings.models):
        if np.isfinite(settings.stock[place]):
            row = total_row((choices.model == place) * 1.0)
            count = settings.in_count(settings.stock[place])
            words = paper().say("plan.limit.stock", count=count, model=model.model_name)
            limit = at_most(f"stock[{model.model_id}]", words, row, settings.stock[place])
            limits.append(replace(limit, key=_key("stock_count", model.model_id)))
    return limits


def _policy_limits(context: Context, settings: Settings, choices: Choices) -> list[Limit]:
    groups, policy, ones = context.groups, settings.limits, np.ones(choices.count)
    is_flat = groups.dwelling[choices.group] == FLATS
    scale = float(max(1.0, settings.budget / max(1.0, choices.cost.min(initial=1.0))))
    limits = []
    if policy.bins_most is not None:
        words = paper().say("plan.limit.bins_most", count=settings.in_count(policy.bins_most))
        limits.append(at_most("bins_most", words, total_row(ones), policy.bins_most))
    if policy.apartments_least_bins:
        count = settings.in_count(policy.apartments_least_bins)
        words = paper().say("plan.limit.apartments_least_bins", count=count)
        row = total_row(is_flat * 1.0)
        limits.append(at_least("apartments_least_bins", words, row, policy.apartments_least_bins))
    if policy.apartments_least_share:
        share = paper().share(policy.apartments_least_share)
        words = paper().say("plan.limit.apartments_least_share", share=share)
        limits.append(
            share_floor(
                "apartments_least_share", words, is_flat, policy.apartments_least_share, scale
            )
        )
    if policy.priority_least_share:
        share = paper().share(policy.priority_least_share)
        words = paper().say("plan.limit.priority_least_share", share=share)
        chosen = groups.is_priority[choices.group]
        limits.append(
            share_floor("priority_least_share", words, chosen, policy.priority_least_share, scale)
        )
    limits += _area_limits(context, settings, choices)
    return [replace(limit, key=f"sizing.limits.{limit.name}") for limit in limits]


def _area_limits(context: Context, settings: Settings, choices: Choices) -> list[Limit]:
    groups, policy = context.groups, settings.limits
    rows = rows_by(groups.area[choices.group], np.ones(choices.count), len(groups.area_ids))
    limits = []
    if policy.bins_most_per_area is not None:
        count = settings.in_count(policy.bins_most_per_area)
        words = paper().say("plan.limit.per_area", count=count)
        limits.append(
            at_most(
                "bins_most_per_area",
                words,
                rows,
                policy.bins_most_per_area,
                unit=_step("bin_in_area"),
            )
        )
    if policy.households_most_share_per_area is not None:
        share = policy.households_most_share_per_area
        households = np.zeros(len(groups.area_ids))
        np.add.at(households, groups.area, groups.households)
        words = paper().say("plan.limit.per_area_share", share=paper().share(share))
        limits.append(
            at_most(
                "households_most_share_per_area",
                words,
                rows,
                np.floor(share * households),
                unit=_step("bin_in_area"),
            )
        )
    return limits


def money_limits(settings: Settings, choices: Choices, fixed_cost: float) -> list[Limit]:
    """Limits of money: the budget, and what the rounds have been granted so far.

    What a round does not spend stays for the next ones.
    """
    room = settings.budget - fixed_cost
    amount, spent = settings.in_money(settings.budget), settings.in_money(fixed_cost)
    words = paper().say("plan.limit.budget", amount=amount)
    if fixed_cost:
        words = paper().say("plan.limit.budget_fixed", amount=amount, spent=spent)
    step = MONEY_STEP_SHARE * settings.budget
    whole = at_most("budget", words, total_row(choices.cost), room, step, _step("per_cent"))
    limits = [replace(whole, key="budget")]
    granted = 0.0
    for place, one in enumerate(settings.rounds):
        if one.budget is None:
            break
        granted += one.budget
        row = total_row(choices.cost * (choices.round_ <= place))
        amount = settings.in_money(granted)
        words = paper().say("plan.limit.granted", amount=amount, round=one.name)
        step = MONEY_STEP_SHARE * granted
        limit = at_most(f"budget[{one.name}]", words, row, granted, step, _step("per_cent"))
        limits.append(replace(limit, key=paper().say("plan.key.rounds", name=one.name)))
    return limits
