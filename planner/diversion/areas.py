"""Figures of single areas: the town's estimate, and what an area may differ by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.survey.streams import random_stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.diversion.measured import Diversion


@dataclass(frozen=True)
class AreaFigures:
    """Draws of one reporting year by area, each of shape (1 + draws_count, areas).

    Parameters
    ----------
    landfill_share
        Share of the year's scraps that was landfilled before; nan where none were fed.
    bins_in_use
        At the end of the year.
    fed_kg, kept_out_kg
        In the year [kg].
    """

    landfill_share: NDArray[np.float64]
    bins_in_use: NDArray[np.float64]
    fed_kg: NDArray[np.float64]
    kept_out_kg: NDArray[np.float64]


def area_figures(
    diversion: Diversion, months: slice, area_feed_spread_share: NDArray[np.float64], seed: int
) -> AreaFigures:
    """Spread the town's estimate by what chance and place make of a single area.

    Retention and feed are those of the town's dwellings, so an area's draws take on, beside
    the town's error, that of how many of its few bins happen to be in use (binomial), how
    much its few households happen to feed, and how far an area's habits lie from the
    town's (a stated factor). The central values are the town's, and totals are not
    touched.

    Parameters
    ----------
    diversion
        What was measured.
    months
        Columns of the reporting year.
    area_feed_spread_share
        Shape (1 + draws_count,): relative standard deviation of feed between areas.
    seed
        Fixes the chance of each area, by its id.
    """
    in_use = diversion.bins_in_use[:, :, -1]
    given = diversion.cohorts.bins_given.sum(axis=(0, 2))
    share = np.divide(in_use, given, out=np.zeros_like(in_use), where=given > 0)
    chance, place = _chances(diversion, in_use.shape, seed)
    lucky = in_use + chance * np.sqrt(given * share * (1.0 - share))
    lucky = np.clip(lucky, 0.0, given)
    relative = np.divide(lucky, in_use, out=np.ones_like(in_use), where=in_use > 0)
    few = np.divide(1.0, lucky, out=np.zeros_like(lucky), where=lucky > 0)
    cv = diversion.estimates.household_feed_cv
    # half the variance off the logarithm keeps the mean at 1; the value itself is the town's
    spread = np.sqrt(area_feed_spread_share[:, None] ** 2 + cv**2 * np.minimum(few, 1.0))
    factor = relative * np.exp(place * spread - spread**2 / 2.0)
    factor[0] = 1.0
    fed_kg = diversion.fed_kg[:, :, months].sum(axis=2)
    kept_out_kg = diversion.kept_out_kg[:, :, months].sum(axis=2)
    unknown = np.full_like(fed_kg, np.nan)
    return AreaFigures(
        landfill_share=np.divide(kept_out_kg, fed_kg, out=unknown, where=fed_kg > 0),
        bins_in_use=lucky,
        fed_kg=fed_kg * factor,
        kept_out_kg=kept_out_kg * factor,
    )


def _chances(
    diversion: Diversion, shape: tuple[int, ...], seed: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Draw standard normal numbers for each area, 0 in draw 0, twice (draws, areas)."""
    chance, place = np.zeros((2, *shape))
    for column, area_id in enumerate(diversion.cohorts.area_ids):
        rng = random_stream(seed, f"area {area_id}")
        chance[1:, column], place[1:, column] = rng.standard_normal((2, shape[0] - 1))
    return chance, place
