"""Build the allocation of one plan from its settings and what bins are expected to do."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Numbers
from planner.diversion.planned import equal_rows
from planner.messages import paper, said
from planner.sizing.allocation import (
    Choices,
    Limit,
    Problem,
    limit_on,
    rows_by,
    share_floor,
    total_row,
)
from planner.tables import DWELLINGS
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.sizing.context import Context
    from planner.sizing.settings import Settings
    from planner.sizing.world import World

FLATS = DWELLINGS.index("apartment")
MONEY_STEP_SHARE = 0.01
"""One more of the budget is one per cent of it: a single unit of money buys no bin."""


def expected_worths(context: Context, settings: Settings, world: World) -> Numbers:
    """Mean over the draws of what one bin keeps out and avoids; its central cost.

    The mean is taken of the product by draw, so that inputs which go together count as they do.

    Returns
    -------
    ndarray
        Shape (4, groups, models, rounds): as `Choices` has them, tonnes kept out, those of the
        year of the target, net emissions avoided and cost.
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
    borne = feed * world.exposed_share[1:] / KG_PER_T
    fed = feed / KG_PER_T
    for code in range(len(DWELLINGS)):
        of_dwelling = np.flatnonzero(context.groups.dwelling == code)
        for model, one in enumerate(world.bins[code]):
            by_month = one.full_feed_weeks[1:]
            weeks = by_month.sum(axis=1)
            in_target = by_month[:, year].sum(axis=1)
            avoided = weeks * rates.avoided_kg_co2e_per_t[1:, None]
            caused = weeks * rates.bin_gases_kg_co2e_per_t[1:, None]
            tonnes[of_dwelling, model] = kept[:, of_dwelling].T @ weeks / draws
            in_year[of_dwelling, model] = kept[:, of_dwelling].T @ in_target / draws
            net[of_dwelling, model] = (
                kept[:, of_dwelling].T @ avoided - fed[:, of_dwelling].T @ caused
            ) / draws
            for part, course in equal_rows(world.moved_elsewhere_share[of_dwelling]):
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
    cost = np.broadcast_to(cost[None, :, None], shape)
    return np.stack([tonnes, in_year, (net - making[None, :, None]) / KG_PER_T, cost])


def build_problem(context: Context, settings: Settings, world: World) -> Problem:
    """Set up choices and limits of a plan.

    Demand is that of the central draw, rounded to whole households.
    """
    demand = np.floor(world.demand[0] + 0.5)
    choices = _choices(context, settings, expected_worths(context, settings, world), demand)
    limits = [
        *_demand_limits(context, settings, choices, demand),
        *_round_limits(settings, choices),
        *_stock_limits(settings, choices),
        *_policy_limits(context, settings, choices),
        *money_limits(settings, choices, world.fixed_cost),
    ]
    most = np.minimum(demand[choices.group, choices.round_], settings.stock[choices.model])
    return Problem(choices, most, tuple(limits))


def _choices(context: Context, settings: Settings, worths: Numbers, demand: Numbers) -> Choices:
    """Variables that may be more than nothing."""
    suits = settings.suits[context.groups.dwelling]
    may = suits[:, :, None] & (demand[:, None, :] > 0) & (settings.stock[None, :, None] > 0)
    group, model, round_ = np.nonzero(may)
    tonnes, in_year, net, cost = worths[:, group, model, round_]
    return Choices(group, model, round_, tonnes, in_year, net, cost, may.shape)


def _demand_limits(
    context: Context, settings: Settings, choices: Choices, demand: Numbers
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
        wanted = paper().number(float(demand[members, -1].sum()))
        words = said(f"plan.limit.wanted_{dwelling}", count=wanted)
        limit = limit_on(
            f"demand[{dwelling}]",
            words,
            scipy.sparse.vstack(rows, format="csr"),
            high=np.concatenate(high),
            unit=_step("household"),
        )
        limits.append(replace(limit, can_be_relaxed=False))
    return limits


def _step(of_what: str) -> str:
    """Name what one more of a limit is."""
    return said(f"plan.step.{of_what}")


def _round_limits(settings: Settings, choices: Choices) -> list[Limit]:
    limits = []
    for place, one in enumerate(settings.rounds):
        row = total_row((choices.round_ == place) * 1.0)
        workshop_places = one.workshop_places if settings.with_workshop else None
        for name, most in (("hand_over", one.hand_over_places), ("workshop", workshop_places)):
            if most is not None:
                count = paper().number(most)
                words = said(f"plan.limit.{name}", round=one.name, count=count)
                key, unit = _key(f"{name}_places", one.name), _step("place")
                limits.append(
                    limit_on(f"{name}[{one.name}]", words, row, high=most, unit=unit, key=key)
                )
    return limits


def _key(key: str, name: str) -> str:
    return said("plan.key.of", key=key, name=name)


def _stock_limits(settings: Settings, choices: Choices) -> list[Limit]:
    limits = []
    for place, (model, stock) in enumerate(zip(settings.models, settings.stock, strict=True)):
        if np.isfinite(stock):
            row = total_row((choices.model == place) * 1.0)
            words = said("plan.limit.stock", count=paper().number(stock), model=model.model_name)
            name, key = f"stock[{model.model_id}]", _key("stock_count", model.model_id)
            limits.append(limit_on(name, words, row, high=stock, key=key))
    return limits


def _policy_limits(context: Context, settings: Settings, choices: Choices) -> list[Limit]:
    groups, policy, ones = context.groups, settings.limits, np.ones(choices.count)
    is_flat = groups.dwelling[choices.group] == FLATS
    cheapest = float(choices.cost.min(initial=settings.budget))
    scale = max(1.0, settings.budget / max(1.0, cheapest))
    limits = []
    if policy.bins_most is not None:
        words = said("plan.limit.bins_most", count=paper().number(policy.bins_most))
        limits.append(limit_on("bins_most", words, total_row(ones), high=policy.bins_most))
    if bins := policy.apartments_least_bins:
        words = said("plan.limit.apartments_least_bins", count=paper().number(bins))
        row = total_row(is_flat * 1.0)
        limits.append(limit_on("apartments_least_bins", words, row, low=bins))
    is_priority = groups.is_priority[choices.group]
    for name, least, chosen in (
        ("apartments_least_share", policy.apartments_least_share, is_flat),
        ("priority_least_share", policy.priority_least_share, is_priority),
    ):
        if least:
            words = said(f"plan.limit.{name}", share=paper().share(least))
            limits.append(share_floor(name, words, chosen, least, scale))
    limits += _area_limits(context, settings, choices)
    return [replace(limit, key=f"sizing.limits.{limit.name}") for limit in limits]


def _area_limits(context: Context, settings: Settings, choices: Choices) -> list[Limit]:
    groups, policy = context.groups, settings.limits
    rows = rows_by(groups.area[choices.group], np.ones(choices.count), len(groups.area_ids))
    unit, limits = _step("bin_in_area"), []
    most, share = policy.bins_most_per_area, policy.households_most_share_per_area
    if most is not None:
        words = said("plan.limit.per_area", count=paper().number(most))
        limits.append(limit_on("bins_most_per_area", words, rows, high=most, unit=unit))
    if share is not None:
        households = np.zeros(len(groups.area_ids))
        np.add.at(households, groups.area, groups.households)
        words = said("plan.limit.per_area_share", share=paper().share(share))
        high = np.floor(share * households)
        limits.append(limit_on("households_most_share_per_area", words, rows, high=high, unit=unit))
    return limits


def money_limits(settings: Settings, choices: Choices, fixed_cost: float) -> list[Limit]:
    """Limits of money: the budget, and what the rounds have been granted so far.

    What a round does not spend stays for the next ones.
    """
    room = settings.budget - fixed_cost
    currency = settings.currency
    amount = paper().money(settings.budget, currency)
    words = said("plan.limit.budget", amount=amount)
    if fixed_cost:
        spent = paper().money(fixed_cost, currency)
        words = said("plan.limit.budget_fixed", amount=amount, spent=spent)
    step = MONEY_STEP_SHARE * settings.budget
    unit = _step("per_cent")
    row = total_row(choices.cost)
    limits = [limit_on("budget", words, row, high=room, step=step, unit=unit, key="budget")]
    granted = 0.0
    for place, one in enumerate(settings.rounds):
        if one.budget is None:
            break
        granted += one.budget
        row = total_row(choices.cost * (choices.round_ <= place))
        amount = paper().money(granted, currency)
        words = said("plan.limit.granted", amount=amount, round=one.name)
        step = MONEY_STEP_SHARE * granted
        key = said("plan.key.rounds", name=one.name)
        limits.append(
            limit_on(f"budget[{one.name}]", words, row, high=granted, step=step, unit=unit, key=key)
        )
    return limits
