"""How areas differ from the town in keeping and feeding bins, from their own answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Integers, Numbers, places_of, quotient
from planner.diversion.retained import cumulative_hazard
from planner.survey.feed import reports_of
from planner.survey.small_areas import (
    AreaEffects,
    AreaModel,
    draw_effects,
    effective_weights,
    fit_areas,
)
from planner.survey.streams import random_stream
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from planner.diversion.groups import DwellingEstimates
    from planner.survey.feed import Calibration
    from planner.survey.interval_likelihood import Intervals
    from planner.survey.retention import Retention
    from planner.survey.row_weights import Weights
    from planner.survey.small_areas import Working


SPREAD_OF_STOPPING = 0.3
"""Prior scale of the spread between areas of the log hazard of stopping: one area in three
loses bins a third faster or slower than the town. Assumed; answers overrule it."""

SPREAD_OF_FEED = 0.15
"""Prior scale of the spread between areas of log feed. Assumed; answers overrule it."""

LEAST_VARIANCE = 1e-4
"""Least relative variance within areas, so that equal answers are not taken as certain."""

SPREAD_OF_COEFFICIENTS = 0.25
"""Prior standard deviation of what a service, priority or mix of homes adds to either."""


@dataclass(frozen=True)
class AreaDifferences:
    """How far areas lie from what the town's curves and feed say of their dwellings."""

    # log ratios of the hazard of stopping and of weekly feed, a cell an area
    hazard: AreaEffects
    feed: AreaEffects
    # shape (areas,): share known of what happened to the bins up to the end of the year
    known_share: Numbers


@dataclass(frozen=True)
class AreaPlaces:
    """Areas in order, and what is known of each before any answer."""

    area_ids: tuple[str, ...]  # areas, in the order of every axis
    # shape (areas, p): a constant, services, priority, share of bins to houses, people of a
    # household less the town's mean
    covariates: Numbers
    bins_given: Numbers  # shape (areas,)

    @classmethod
    def of(cls, areas: pl.DataFrame, bins_given: Numbers) -> AreaPlaces:
        """Take covariates from query bins_by_area and bins given, shape (areas, dwellings)."""
        service = areas["kerbside_service"].cast(pl.String)
        given = bins_given.sum(axis=1)
        houses = quotient(bins_given[:, DWELLINGS.index("house")], given)
        people_known = areas["people_per_household"].cast(pl.Float64)
        people = people_known.fill_null(strategy="mean").fill_null(0.0).to_numpy()
        columns = [
            np.ones(areas.height),
            (service == "garden_organics").to_numpy(),
            (service == "food_and_garden_organics").to_numpy(),
            areas["is_priority"].to_numpy(),
            houses - np.average(houses, weights=np.maximum(given, 1e-9)),
            people - np.average(people, weights=np.maximum(given, 1e-9)),
        ]
        return cls(tuple(areas["area_id"]), np.column_stack(columns).astype(float), given)

    def codes(self, frame: pl.DataFrame) -> Integers:
        """Place of each row's area."""
        return places_of(frame["area_id"], self.area_ids)

    def effects(
        self, fit: AreaModel, spread_scale: float, draws_count: int, rng: np.random.Generator
    ) -> AreaEffects:
        """Draw every area's level, those without answers from their covariates."""
        everywhere = np.arange(len(self.area_ids))
        return draw_effects(fit, self.covariates, everywhere, spread_scale, draws_count, rng)


def area_differences(
    places: AreaPlaces,
    known: tuple[pl.DataFrame, Intervals, Weights],
    answers: tuple[pl.DataFrame, Weights],
    estimates: DwellingEstimates,
    calibration: Calibration,
    seed: int,
) -> AreaDifferences:
    """Estimate how areas differ in keeping and feeding bins, from their own answers.

    Parameters
    ----------
    known
        Rows of query use_intervals with a weight, the ages at which they stopped, and
        weights of shape (1 + draws_count, rows).
    answers
        Query followup_answers and weights of shape (1 + draws_count, rows).
    estimates
        The town's curves and feed by dwelling: areas differ from these.
    """
    households, seen, weights = known
    draws_count = weights.shape[0] - 1
    stopping = stopping_model(places, households, seen, weights[0], estimates.retention)
    of_feed, feed_weights = answers
    feeding = feed_model(
        places, *_feed_ratios(places, of_feed, feed_weights[0], estimates, calibration)
    )
    return AreaDifferences(
        hazard=places.effects(
            stopping, SPREAD_OF_STOPPING, draws_count, random_stream(seed, "areas' stopping")
        ),
        feed=places.effects(
            feeding, SPREAD_OF_FEED, draws_count, random_stream(seed, "areas' feed")
        ),
        known_share=_known_shares(places, households, estimates),
    )


def _known_shares(
    places: AreaPlaces, households: pl.DataFrame, estimates: DwellingEstimates
) -> Numbers:
    """Share known of each area, where the few of an area who told may stand for few others."""
    codes, count = places.codes(households), len(places.area_ids)
    given = np.maximum(places.bins_given, 1.0)
    asked = np.bincount(codes, minlength=count) / given
    return np.minimum(estimates.retained.known.shares(codes, count), asked)


def stopping_model(
    places: AreaPlaces,
    households: pl.DataFrame,
    seen: Intervals,
    weights: Numbers,
    curves: tuple[Retention, ...],
) -> AreaModel:
    """Reduce states to one log hazard ratio an area, with its error, against the curves.

    The score of the ratio over its information; the information of a household is the
    chance that it had stopped by the last age known of, scaled to the spread of the scores.
    """
    codes = places.codes(households)
    is_out = np.isfinite(seen.upper)
    hazard_low = cumulative_hazard(households, seen.lower, curves)
    hazard_high = cumulative_hazard(households, np.where(is_out, seen.upper, 0.0), curves)
    hazard_high[~is_out] = np.inf
    last = np.where(np.isfinite(hazard_high), hazard_high, hazard_low)
    effective = effective_weights(weights, codes, len(places.area_ids))
    answering = np.unique(codes)
    of_area = np.searchsorted(answering, codes)

    def working(predictor: Numbers) -> tuple[Numbers, Numbers]:
        ratio = np.exp(np.clip(predictor, -3.0, 3.0))[of_area]
        score = score_of_hazard(hazard_low * ratio, hazard_high * ratio)
        information = np.maximum(-np.expm1(-last * ratio), 1e-6)
        scale = float(effective @ score**2 / (effective @ information))
        total = np.bincount(of_area, effective * information)
        step = np.bincount(of_area, effective * score) / total
        return predictor + step, max(scale, 1e-6) / total

    return _fit_areas(places, working, answering, SPREAD_OF_STOPPING)


def score_of_hazard(low: Numbers, high: Numbers) -> Numbers:
    """Slope of the log likelihood in the log hazard ratio, at cumulative hazards low, high."""
    kept = ~np.isfinite(high)
    width = np.where(kept, 1.0, high - low)
    # a day known exactly, or so narrow an interval that it is one
    exact = width < 1e-9
    gone = -np.expm1(-np.where(exact, 1.0, width))
    upper = np.where(kept, 0.0, high) * np.exp(-np.where(exact | kept, 0.0, width))
    between = (upper - low) / gone
    return np.asarray(np.where(kept, -low, np.where(exact, 1.0 - low, between)))


def feed_model(places: AreaPlaces, codes: Integers, ratios: Numbers, weights: Numbers) -> AreaModel:
    """Set reported feed against that of the dwelling, on the log scale by area.

    Parameters
    ----------
    codes
        Shape (n,): place of each household's area.
    ratios
        Shape (n,): feed of an in-use bin over the town's mean of its dwelling.
    weights
        Shape (n,).
    """
    effective = effective_weights(weights, codes, len(places.area_ids))
    answering = np.unique(codes)
    of_area = np.searchsorted(answering, codes)
    total = np.bincount(of_area, effective)
    mean = np.bincount(of_area, effective * ratios) / total

    def working(predictor: Numbers) -> tuple[Numbers, Numbers]:
        level = np.exp(predictor)
        # relative spread within areas, alike everywhere: households differ by a factor
        within = (ratios - mean[of_area]) / level[of_area]
        freedom = max(float(total.sum() - total.size), 1.0)
        variance = max(float(effective @ within**2) / freedom, LEAST_VARIANCE)
        return predictor + mean / level - 1.0, variance / total

    return _fit_areas(places, working, answering, SPREAD_OF_FEED)


def _feed_ratios(
    places: AreaPlaces,
    answers: pl.DataFrame,
    weights: Numbers,
    estimates: DwellingEstimates,
    calibration: Calibration,
) -> tuple[Integers, Numbers, Numbers]:
    """Areas, feed over the mean of the dwelling and weights of in-use bins with an answer."""
    reports = reports_of(answers)
    has_feed, kilograms = reports.has_report, calibration.central_kg(reports)
    expected = estimates.kg_per_in_use_bin_week[0][places_of(answers["dwelling"], DWELLINGS)]
    # where nobody feeds a bin of this dwelling no area can be told from another
    ratios = quotient(kilograms, expected, otherwise=1.0)
    return places.codes(answers)[has_feed], ratios[has_feed], weights[has_feed]


def _fit_areas(
    places: AreaPlaces, working: Working, answering: Integers, spread_of_areas: float
) -> AreaModel:
    spread = np.full(places.covariates.shape[1], SPREAD_OF_COEFFICIENTS)
    # the constant is the town's: benchmarking takes it out again
    spread[0] = 1.0
    covariates, areas_count = places.covariates[answering], len(places.area_ids)
    return fit_areas(working, covariates, answering, areas_count, spread, spread_of_areas)
