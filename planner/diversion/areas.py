"""Figures of single areas: the town's, moved by the area's own answers, and adding up to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers, quotient
from planner.survey.streams import random_stream

if TYPE_CHECKING:
    from planner.diversion.measured import Diversion


BISECTIONS = 40
"""Halvings of the common shift that makes areas add up: to a billionth of a bin."""

WIDEST_SHIFT = 6.0
"""Largest common shift of log hazard that is looked for."""


@dataclass(frozen=True)
class AreaFigures:
    """Draws of one reporting year by area, each of shape (1 + draws_count, areas)."""

    # share of the year's scraps that would have been landfilled; nan where none were fed
    landfill_share: Numbers
    bins_in_use: Numbers  # at the end of the year
    # fed to bins, and kept out of landfill, in the year [kg]
    fed_kg: Numbers
    kept_out_kg: Numbers


def area_figures(diversion: Diversion, landfilled_share: float, seed: int) -> AreaFigures:
    """Move the town's estimate of each area by how the area differs, keeping the town's total.

    The town's curves and feed by dwelling say what to expect of an area's bins; its log
    hazard of stopping and log feed lie off that by what its own answers, shrunk, say. A
    common shift makes the areas add up to the town in every draw. Then each draw takes on
    the chance of few households: of what is not known, how many bins happen to be in use
    (binomial), how much they happen to feed, and where their scraps went before.
    """
    given = diversion.cohorts.bins_given.sum(axis=(0, 2))
    log_hazard = diversion.differences.hazard.predictor
    chance, chance_of_feed, chance_of_route = _chances(diversion, log_hazard.shape, seed)
    unknown = 1.0 - diversion.differences.known_share
    town = diversion.of_areas
    # how an area's hazard errs moves only what is not known
    log_hazard = log_hazard[:1] + unknown * (log_hazard - log_hazard[:1])
    mean_in_use = in_use_with(town.bins_in_use, given, np.exp(log_hazard))
    in_use = _with_chance(mean_in_use, given, town.held_at_most, unknown, chance)
    kept = quotient(in_use, town.bins_in_use, otherwise=1.0)
    few = quotient(unknown, in_use)
    spread = diversion.estimates.household_feed_cv * np.sqrt(np.minimum(few, 1.0))
    factor = kept * np.exp(
        diversion.differences.feed.predictor + chance_of_feed * spread - spread**2 / 2.0
    )
    fed_kg = _adding_up(town.fed_kg * factor, town.fed_kg)
    landfilled = town.from_residual_bin_kg * landfilled_share
    mean_share = quotient(landfilled, town.fed_kg, otherwise=np.nan)
    share = mean_share + chance_of_route * landfilled_share * _spread_of_routes(diversion, in_use)
    share = np.clip(share, 0.0, landfilled_share)
    moved = quotient(fed_kg, town.fed_kg, otherwise=1.0) * quotient(
        share, mean_share, otherwise=1.0
    )
    kept_out_kg = _adding_up(town.kept_out_kg * moved, town.kept_out_of_town_kg[:, None])
    return AreaFigures(share, in_use, fed_kg, kept_out_kg)


def _spread_of_routes(diversion: Diversion, in_use: Numbers) -> Numbers:
    """Say how far an area's residual-bin share lies off by who its few households are.

    A standard deviation, shape (1 + draws_count, areas).

    Households that feed more count for more: n of them are worth n / (1 + cv²).
    """
    households = in_use / (1.0 + diversion.estimates.household_feed_cv**2)
    return np.asarray(diversion.routes.household_spread / np.sqrt(np.maximum(households, 1.0)))


def fed_ratio(diversion: Diversion) -> Numbers:
    """How much a bin of each area is fed, over one of the same dwelling in the whole town.

    The area's own keeping and feeding, without the chance of who happens to live there now:
    what to expect of the next bins. Central values, shape (areas,); 1 where no bins were.
    """
    given = diversion.cohorts.bins_given.sum(axis=(0, 2))
    before = diversion.of_areas.bins_in_use[:1]
    hazard = np.exp(diversion.differences.hazard.predictor[:1])
    kept = quotient(in_use_with(before, given, hazard), before, otherwise=1.0)
    fed_before = diversion.of_areas.fed_to_date_kg[None, :]
    fed = _adding_up(
        fed_before * kept * np.exp(diversion.differences.feed.predictor[:1]), fed_before
    )
    return np.asarray(quotient(fed, fed_before, otherwise=1.0)[0])


def in_use_with(in_use: Numbers, given: Numbers, hazard_ratio: Numbers) -> Numbers:
    """Bins in use where areas' hazards of stopping differ, adding up to the same total.

    ``given × (in_use / given)^(ratio × c)`` with the c of each draw that keeps its sum.

    Parameters
    ----------
    in_use
        Shape (draws, areas): by the town's curves.
    given
        Shape (areas,).
    hazard_ratio
        Shape (draws, areas), above 0.

    Examples
    --------
    >>> in_use_with(
    ...     np.array([[50.0, 50.0]]), np.array([100.0, 100.0]), np.array([[1.0, 3.0]])
    ... ).round(1)
    array([[68.2, 31.8]])
    """
    share = quotient(in_use, given, otherwise=1.0)
    hazard = -np.log(np.clip(share, 1e-12, 1.0)) * hazard_ratio
    target = in_use.sum(axis=1)
    low = np.full(in_use.shape[0], -WIDEST_SHIFT)
    high = -low
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        total = (given * np.exp(-hazard * np.exp(middle)[:, None])).sum(axis=1)
        low = np.where(total > target, middle, low)
        high = np.where(total > target, high, middle)
    return np.asarray(given * np.exp(-hazard * np.exp((low + high) / 2.0)[:, None]))


def _with_chance(
    mean: Numbers, given: Numbers, held: Numbers, unknown: Numbers, chance: Numbers
) -> Numbers:
    """Add the binomial chance of what is not known, within what is held; the areas' sum stays."""
    share = quotient(mean, given).clip(max=1.0)
    variance = given * unknown * share * (1.0 - share)
    total = variance.sum(axis=1, keepdims=True)
    deviation = chance * np.sqrt(variance)
    part = quotient(variance, total)
    deviation = deviation - part * deviation.sum(axis=1, keepdims=True)
    moved = np.clip(mean + deviation, 0.0, held)
    # what the limits cut off goes to areas in proportion to the room that they have left
    missing = (mean - moved).sum(axis=1, keepdims=True)
    room = np.where(missing > 0, held - moved, moved)
    all_room = room.sum(axis=1, keepdims=True)
    part = quotient(room, all_room)
    return np.asarray(moved + part * missing)


def _adding_up(parts: Numbers, town: Numbers) -> Numbers:
    """Scale parts of each draw so that their sum is the town's."""
    total = parts.sum(axis=1, keepdims=True)
    return parts * quotient(town.sum(axis=1, keepdims=True), total, otherwise=1.0)


def _chances(diversion: Diversion, shape: tuple[int, ...], seed: int) -> Numbers:
    """Draw standard normal numbers for each area, 0 in draw 0, (3, draws, areas)."""
    chances = np.zeros((3, *shape))
    for column, area_id in enumerate(diversion.cohorts.area_ids):
        rng = random_stream(seed, f"area {area_id}")
        chances[:, 1:, column] = rng.standard_normal((3, shape[0] - 1))
    return chances
