"""The world by draw: what each uncertain number makes of demand, bins and costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.arrays import Flags, Numbers
from planner.diversion.cohorts import months_between
from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.diversion.planned import (
    OneBin,
    equal_rows,
    one_bin,
    planned_capacity,
    still_in_residual_bin,
)
from planner.sizing.draws import ranked_rows
from planner.sizing.groups import (
    demand_by_round,
    response_to_copayment,
    share_by_round,
    take_up_share,
)
from planner.survey.retention import Retention
from planner.tables import DWELLINGS
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from planner.program import BinModel
    from planner.sizing.context import Context
    from planner.sizing.draws import Draws, EmissionRates
    from planner.sizing.settings import Settings

RETENTION_MONTHS = 12.0
"""Age at which the share in use is believed and learnt [months]."""


@dataclass(frozen=True)
class World:
    """Everything uncertain of one plan; draws on the first axis."""

    # shape (draws, groups, rounds): households that would have taken a bin by each round
    demand: Numbers
    feed_kg_per_week: Numbers  # shape (draws, groups): feed of an in-use bin [kg/week]
    # shape (groups,): of the scraps, share that was landfilled before, in the central draw
    landfill_share: Numbers
    # shape (draws, groups): the same less what would have been composted anyway and what is thrown
    # away after all
    kept_out_share: Numbers
    # of the scraps, share that the baseline scenarios bear on: landfilled before, less what would
    # have been composted anyway, (draws, groups)
    exposed_share: Numbers
    # shape (groups, months): share of `exposed_share` that goes elsewhere by a scenario
    moved_elsewhere_share: Numbers
    # for each dwelling and model, what one bin does by month and round
    bins: tuple[tuple[OneBin, ...], ...]
    # shape (draws, models): price of a bin; cost of handing one over, its workshop included, less
    # the co-payment [currency]
    price: Numbers
    other_cost: Numbers
    fixed_cost: float  # [currency]
    rates: EmissionRates

    @cached_property
    def scenario_courses(self) -> list[tuple[Flags, Numbers]]:
        """Courses of the baseline scenarios: the groups of each, and its months."""
        courses = equal_rows(self.moved_elsewhere_share)
        return [(groups, course) for groups, course in courses if course.any()]


def make_world(context: Context, settings: Settings, draws: Draws) -> World:
    """Work out demand, feed, shares, bins and costs for every draw.

    Parameters
    ----------
    draws
        For each uncertain number an array of shape (1 + draws_count,).
    """
    feed, landfilled = feed_of_groups(context, draws), landfill_share(context, draws)
    return World(
        demand=_demand(context, settings, draws),
        feed_kg_per_week=feed,
        landfill_share=landfilled[0].copy(),
        kept_out_share=kept_out_share(context, draws, landfilled),
        exposed_share=landfilled * (1.0 - draws[ANYWAY])[:, None],
        moved_elsewhere_share=moved_elsewhere_share(context, settings.months),
        bins=_bins(context, settings, draws, feed),
        **_costs(context, settings, draws),
        rates=context.rates.rows(
            ranked_rows(context.rates.avoided_kg_co2e_per_t, draws["emission_factors_rank"])
        ),
    )


def changed_world(
    context: Context, draws: Draws, settings: Settings, world: World, changed: Settings
) -> World:
    """Work out what a scenario changes in the world of other settings, on the same draws."""
    is_same_bins = changed.with_workshop == settings.with_workshop
    feed = world.feed_kg_per_week
    return replace(
        world,
        demand=world.demand
        if changed.copayment == settings.copayment
        else _demand(context, changed, draws),
        bins=world.bins if is_same_bins else _bins(context, changed, draws, feed),
        **_costs(context, changed, draws),
    )


def _costs(context: Context, settings: Settings, draws: Draws) -> dict[str, Any]:
    return {
        "price": settings.unit_price * draws["unit_price_multiplier"][:, None],
        "other_cost": _other_cost(context, settings, draws),
        "fixed_cost": context.fixed_cost(settings),
    }


def retention_curves(draws: Draws, *, with_workshop: bool) -> tuple[Retention, ...]:
    """Weibull curve of each dwelling through its share in use after 12 months.

    A workshop multiplies the odds of being in use at that age.

    Notes
    -----
    ``S(a) = exp(log S(12) · (a/12)^k)``.
    """
    shape = draws["retention_shape"]
    curves = []
    for name in DWELLINGS:
        share = draws[f"in_use_12_months_share_{name}"]
        if with_workshop:
            odds = share / (1.0 - share) * draws["workshop_in_use_odds_ratio"]
            share = odds / (1.0 + odds)
        level = np.log(-np.log(share))
        curve = Retention(level, shape[:, None], RETENTION_MONTHS, (), 0, 0, RETENTION_MONTHS)
        curves.append(curve)
    return tuple(curves)


def feed_of_groups(context: Context, draws: Draws) -> Numbers:
    """Feed of an in-use bin in each group, by the size of its households, (draws, groups).

    Notes
    -----
    ``F × ratio of the area and dwelling × (people / reference people)^exponent``.
    """
    groups = context.groups
    relative = groups.people / context.reference_people[groups.dwelling]
    exponent = draws["feed_household_size_exponent"][:, None]
    by_size = np.exp(exponent * np.log(relative)[None, :])
    return np.asarray(draws["feed_kg_per_week"][:, None] * context.feed_ratio * by_size)


def landfill_share(context: Context, draws: Draws) -> Numbers:
    """Share of each group's scraps that was landfilled before, (draws, groups)."""
    groups = context.groups
    landfilled = context.program.landfill.landfilled_share_of_residual_waste
    if context.routes is None:
        share = draws["new_composter_share"] * draws["residual_bin_share"]
        collected = draws["food_collection_residual_ratio"][:, None]
        by_group = np.where(groups.has_food_collection[None, :], collected, 1.0)
        return np.asarray(landfilled * share[:, None] * by_group)
    routes = context.routes
    rows = ranked_rows(routes.residual_bin_share.mean(axis=(1, 2)), draws["surveyed_routes_rank"])
    place = {name: n for n, name in enumerate(routes.area_ids)}
    area = np.array([place[name] for name in context.groups.area_ids])[groups.area]
    return np.asarray(landfilled * routes.residual_bin_share[:, area, groups.dwelling][rows])


def kept_out_share(context: Context, draws: Draws, landfilled: Numbers) -> Numbers:
    """Take both leaks off the share landfilled before, (draws, groups).

    Notes
    -----
    The last steps of the measured chain, see `planner.diversion.leakage.Leakage`, for a
    kilogram fed: ``λ r (1 − c) − λ b``.
    """
    thrown = draws[THROWN_AWAY] * context.program.landfill.landfilled_share_of_residual_waste
    return np.asarray(landfilled * (1.0 - draws[ANYWAY])[:, None] - thrown[:, None])


def moved_elsewhere_share(context: Context, months: Sequence[dt.date]) -> Numbers:
    """Share that goes elsewhere by the baseline scenarios, (groups, months)."""
    stays = still_in_residual_bin(context.program, context.groups.area_ids, months)
    return np.asarray((1.0 - stays)[context.groups.area])


def lost_to_scenarios(
    weeks: Numbers, bins: Numbers, borne: Numbers, moved_elsewhere_share: Numbers
) -> Numbers:
    """Kilograms that scenarios take off what bins keep out of landfill, (draws, months).

    Parameters
    ----------
    weeks
        Shape (draws, months, rounds): weeks at full feed of one bin.
    bins
        Shape (draws or one, groups, rounds).
    borne
        Shape (draws, groups): feed × share that scenarios bear on [kg/week].
    moved_elsewhere_share
        Shape (groups, months).
    """
    lost = np.zeros(weeks.shape[:2])
    for groups, course in equal_rows(moved_elsewhere_share):
        if course.any():
            weight = (bins[:, groups] * borne[:, groups, None]).sum(axis=1)
            lost += np.einsum("dmr,dr->dm", weeks, weight) * course
    return lost


def _demand(context: Context, settings: Settings, draws: Draws) -> Numbers:
    halving = draws["copayment_halving_price_share"] * context.mean_price
    reference = context.reference_copayment if "take_up_next_year_ratio" in draws else 0.0
    response = response_to_copayment(settings.copayment - reference, halving)
    take_up = take_up_share(draws) * response[:, None]
    by_round = share_by_round(context.registered, settings.start, settings.handover_months)
    return demand_by_round(context.groups, take_up, draws["no_show_share"], by_round)


def _bins(
    context: Context, settings: Settings, draws: Draws, feed: Numbers
) -> tuple[tuple[OneBin, ...], ...]:
    """One bin of each dwelling and model, over the months of the horizon."""
    curves = retention_curves(draws, with_workshop=settings.with_workshop)
    feeds = [mean_feed(context, feed, code) for code in range(len(DWELLINGS))]
    months = (settings.months, settings.handover_months)
    return tuple(
        tuple(_one_bin(context, draws, model, *months, curve, mean) for model in settings.models)
        for curve, mean in zip(curves, feeds, strict=True)
    )


def _one_bin(
    context: Context,
    draws: Draws,
    model: BinModel,
    months: Sequence[dt.date],
    handed_over: Sequence[dt.date],
    curve: Retention,
    feed: Numbers,
    shown: slice = slice(None),
) -> OneBin:
    """Follow one bin of a model in households that keep it by this curve and feed so much."""
    temperature_c = context.program.climate.monthly_mean_temperature_c
    rates = {name: draws[name] for name in WORM_FACTOR_IDS}
    capacity = planned_capacity(model, temperature_c, feed, rates)
    life_months = model.service_life_years * MONTHS_PER_YEAR
    return one_bin(months, handed_over, curve, capacity, life_months, shown)


def mean_feed(context: Context, feed: Numbers, code: int) -> Numbers:
    """Mean feed over the households of a dwelling, (draws,); that of all where it has none."""
    weight = context.groups.households * (context.groups.dwelling == code)
    if weight.sum() == 0.0:
        weight = np.ones_like(weight)
    return np.asarray(feed @ (weight / weight.sum()))


def earlier_bins(context: Context, settings: Settings, draws: Draws) -> Numbers:
    """Scraps that bins given before the plan keep out of landfill, (draws, months) [kg]."""
    earlier = context.earlier
    shape = (draws["feed_kg_per_week"].size, len(settings.months))
    if not earlier.months:
        return np.zeros(shape)
    months = [*months_between(earlier.months[0], settings.start), *settings.months]
    feed, curves = feed_of_groups(context, draws), retention_curves(draws, with_workshop=False)
    landfilled = landfill_share(context, draws)
    weight = feed * kept_out_share(context, draws, landfilled)
    borne = feed * landfilled * (1.0 - draws[ANYWAY])[:, None]
    leaves = moved_elsewhere_share(context, settings.months)
    kept_out, shown = np.zeros(shape), slice(-len(settings.months), None)
    for code, curve in enumerate(curves):
        of_dwelling = context.groups.dwelling == code
        if not earlier.households[of_dwelling].any():
            continue
        mean = mean_feed(context, feed, code)
        of_bin = (settings.models[0], months, earlier.months, curve, mean, shown)
        weeks = _one_bin(context, draws, *of_bin).full_feed_weeks
        kilograms = weight[:, of_dwelling] @ earlier.households[of_dwelling]
        kept_out += np.einsum("dmc,dc->dm", weeks, kilograms)
        given = earlier.households[None, of_dwelling]
        kept_out -= lost_to_scenarios(weeks, given, borne[:, of_dwelling], leaves[of_dwelling])
    return kept_out


def _other_cost(context: Context, settings: Settings, draws: Draws) -> Numbers:
    """Cost of handing over a bin less the co-payment, (draws, models) [currency]."""
    base = np.array([model.unit_price for model in settings.models])
    known = context.other_cost_per_bin(settings)
    cost = (
        draws["other_cost_to_price_ratio"][:, None] * base
        if known is None
        else np.full((draws["other_cost_to_price_ratio"].size, base.size), known)
    )
    if settings.with_workshop:
        stated = settings.workshop_cost_per_bin
        ratio = draws["workshop_cost_to_price_ratio"][:, None]
        cost = cost + (ratio * base if stated is None else stated)
    return np.asarray(cost - settings.copayment)
