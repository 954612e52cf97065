"""Outcome of an allocation by draw: bins taken, tonnes by month, emissions and cost."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers, quotient
from planner.sizing.world import lost_to_scenarios
from planner.tables import DWELLINGS
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.sizing.context import Context
    from planner.sizing.settings import Settings
    from planner.sizing.world import World


@dataclass(frozen=True)
class Outcome:
    """What a plan comes to; each of shape (draws,) unless said."""

    bins_given: Numbers  # bins that households take
    # shape (draws, months): scraps that the plan's bins keep out of landfill [t]
    kept_out_t_by_month: Numbers
    fed_t: Numbers  # scraps that they are fed over the horizon [t]
    # shape (draws, months): weeks in which they are in use
    in_use_weeks_by_month: Numbers
    # landfill methane avoided less the gases, making and moving of the bins; making in full, in the
    # year in which a bin is acquired, as in the report [t CO2-e]
    net_t_co2e: Numbers
    cost: Numbers  # [currency]

    @property
    def kept_out_t(self) -> Numbers:
        """Scraps kept out of landfill over the horizon [t]."""
        return np.asarray(self.kept_out_t_by_month.sum(axis=1))

    @property
    def kept_out_t_by_year(self) -> Numbers:
        """The same by year of the plan, shape (draws, years) [t]."""
        return by_year(self.kept_out_t_by_month)

    @property
    def cost_per_t(self) -> Numbers:
        """Cost over tonnes of the horizon [currency/t]."""
        return np.asarray(self.cost / np.maximum(self.kept_out_t, 1e-9))


def by_year(by_month: Numbers) -> Numbers:
    """Sum months, the last axis, by year."""
    return np.asarray(by_month.reshape(*by_month.shape[:-1], -1, MONTHS_PER_YEAR).sum(axis=-1))


def outcome_of(context: Context, settings: Settings, world: World, bins: Integers) -> Outcome:
    """Work out what a plan comes to in every draw.

    Bins that nobody takes in a round stay in store for the next; at the end those left are
    paid for and do nothing. Groups do not lend each other bins.

    Parameters
    ----------
    bins
        Shape (groups, models, rounds): bins planned.
    """
    planned = bins.sum(axis=1)
    taken = _taken(world.demand, planned)
    mix = _mix(bins)
    draws, months = world.demand.shape[0], len(settings.months)
    kept_out, in_use, fed = np.zeros((draws, months)), np.zeros((draws, months)), np.zeros(draws)
    for code in range(len(DWELLINGS)):
        of_dwelling = np.flatnonzero((context.groups.dwelling == code) & (planned.sum(axis=1) > 0))
        weight_fed = world.feed_kg_per_week[:, of_dwelling]
        weight_kept = weight_fed * world.kept_out_share[:, of_dwelling]
        borne = weight_fed * world.exposed_share[:, of_dwelling]
        for model, one in enumerate(world.bins[code]):
            bins_taken = taken[:, of_dwelling]
            bins_taken *= mix[of_dwelling, model]
            if not bins_taken.any():
                continue
            weeks = one.full_feed_weeks
            kept = np.einsum("dgr,dg->dr", bins_taken, weight_kept)
            kept_out += np.einsum("dmr,dr->dm", weeks, kept)
            kept_out -= lost_to_scenarios(
                weeks, bins_taken, borne, world.moved_elsewhere_share[of_dwelling]
            )
            in_use += np.einsum("dmr,dr->dm", one.in_use_weeks, bins_taken.sum(axis=1))
            eaten = np.einsum("dgr,dg->dr", bins_taken, weight_fed)
            fed += np.einsum("dr,dr->d", weeks.sum(axis=1), eaten)
    given_by_model = np.einsum("dgr,gjr->dj", taken, mix)
    kept_out /= KG_PER_T
    fed /= KG_PER_T
    return Outcome(
        bins_given=given_by_model.sum(axis=1),
        kept_out_t_by_month=kept_out,
        fed_t=fed,
        in_use_weeks_by_month=in_use,
        net_t_co2e=_net(world, kept_out.sum(axis=1), fed, bins),
        cost=_cost(world, bins, given_by_model),
    )


def _taken(demand: Numbers, planned: Integers) -> Numbers:
    """Bins taken in each round, (draws, groups, rounds)."""
    taken = np.asarray(np.minimum(np.cumsum(planned, axis=1)[None], demand))
    # so far, less what was taken by the round before: the last first, and in place
    for place in range(taken.shape[2] - 1, 0, -1):
        taken[:, :, place] -= taken[:, :, place - 1]
    return taken


def _mix(bins: Integers) -> Numbers:
    """Share of each model among the bins that a group takes, (groups, models, rounds).

    That of the round, or of all rounds where bins are left from earlier ones.
    """
    in_round = bins.sum(axis=1, keepdims=True).astype(float)
    by_model = bins.sum(axis=2, keepdims=True).astype(float)
    total = by_model.sum(axis=1, keepdims=True)
    return quotient(bins, in_round, otherwise=quotient(by_model, total))


def central_draw(world: World) -> World:
    """Keep the central draw alone, to work out many allocations fast."""
    bins = tuple(
        tuple(
            replace(one, in_use_weeks=one.in_use_weeks[:1], full_feed_weeks=one.full_feed_weeks[:1])
            for one in models
        )
        for models in world.bins
    )
    return replace(
        world,
        demand=world.demand[:1],
        feed_kg_per_week=world.feed_kg_per_week[:1],
        kept_out_share=world.kept_out_share[:1],
        exposed_share=world.exposed_share[:1],
        bins=bins,
        price=world.price[:1],
        other_cost=world.other_cost[:1],
        rates=world.rates.rows(slice(1)),
    )


def taken_in_central_draw(world: World, bins: Integers) -> Numbers:
    """Bins taken in the central draw, (groups, models, rounds)."""
    taken = _taken(world.demand[:1], bins.sum(axis=1))[0]
    return np.asarray(taken[:, None, :] * _mix(bins))


def _net(world: World, kept_out_t: Numbers, fed_t: Numbers, bins: Integers) -> Numbers:
    bought = bins.sum(axis=(0, 2))
    making = world.rates.making_kg_co2e @ bought
    avoided = kept_out_t * world.rates.avoided_kg_co2e_per_t
    caused = fed_t * world.rates.bin_gases_kg_co2e_per_t
    return np.asarray((avoided - caused - making) / KG_PER_T)


def _cost(world: World, bins: Integers, given_by_model: Numbers) -> Numbers:
    bought = world.price @ bins.sum(axis=(0, 2))
    handed = (given_by_model * world.other_cost).sum(axis=1)
    return np.asarray(world.fixed_cost + bought + handed)
