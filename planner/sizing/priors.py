"""Priors: every number that is uncertain before anything is measured, in plain words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.sizing.beliefs import (
    Belief,
    beta_belief,
    beta_parameters,
    factor_belief,
    moments,
    prior_belief,
)
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.factors import Factor, FactorTable
    from planner.program.sizing import Prior

INTEREST, IN_USE, FEED, ROUTES = (
    "How many want a bin",
    "How many stay in use",
    "What a bin is fed",
    "What was landfilled before",
)
LEAKAGE = "Composted anyway or thrown away"
WORMS, EMISSIONS, COSTS = "Worms and season", "Emission factors", "Costs of a bin"
SIZE, COPAYMENT, WORKSHOP = "Size of households", "Response to a co-payment", "What a workshop does"

NEW_BIN = "new_bin"
STATED_CORRELATIONS = {
    **{
        (f"{name}_{first}", f"{name}_{second}"): 0.7
        for name in ("interest_share", "take_up_share", "in_use_12_months_share")
        for first, second in (
            ("house", "townhouse"),
            ("house", "apartment"),
            ("townhouse", "apartment"),
        )
    },
    ("residual_bin_share", "new_composter_share"): 0.3,
}
"""Rank correlations, a judgement: what holds of one dwelling mostly holds of the others, and
households that never composted threw more of their scraps into the residual bin."""


FACTORS: dict[str, tuple[str, str, str, str]] = {
    "doing_over_saying_share": (
        "Of those who say they want a bin, share that register for one",
        INTEREST,
        "doing_over_saying_share",
        "",
    ),
    "take_up_next_year_ratio": (
        "Take-up of the next year over last year's",
        INTEREST,
        "take_up_next_year_ratio",
        "",
    ),
    "no_show_share": (
        "Of those who wait for a bin, share that does not come for it",
        INTEREST,
        "no_show_share",
        "",
    ),
    "copayment_halving_price_share": (
        "Co-payment, as a share of the price, at which half still take a bin",
        COPAYMENT,
        "copayment_halving_price_share",
        "",
    ),
    "retention_shape": ("Shape of the retention curve", IN_USE, "retention_shape", ""),
    "workshop_in_use_odds_ratio": (
        "Odds of a bin in use after a year, with a workshop over without",
        WORKSHOP,
        "workshop_in_use_odds_ratio",
        "",
    ),
    "feed_kg_per_week": (
        "Feed of an in-use bin, in kg a week",
        FEED,
        "fed_kg_per_household_week",
        "",
    ),
    "feed_household_size_exponent": (
        "How feed grows with the size of households",
        SIZE,
        "feed_household_size_exponent",
        "",
    ),
    "new_composter_share": (
        "Share of households that did not compost before",
        ROUTES,
        "new_composter_share",
        "",
    ),
    "residual_bin_share": (
        "Of their scraps, share that went into the residual bin",
        ROUTES,
        "residual_bin_share",
        "",
    ),
    "food_collection_residual_ratio": (
        "The same where food scraps are collected, over where they are not",
        ROUTES,
        "food_collection_residual_ratio",
        "",
    ),
    ANYWAY: (
        "Of the scraps landfilled before, share that would have been composted anyway",
        LEAKAGE,
        ANYWAY,
        "",
    ),
    THROWN_AWAY: (
        "Of the scraps fed, share that is thrown away after all",
        LEAKAGE,
        THROWN_AWAY,
        "",
    ),
    "other_cost_to_price_ratio": (
        "Worms, bedding, freight and hand-over of a bin, over its price",
        COSTS,
        "other_cost_to_price_ratio",
        "",
    ),
    "workshop_cost_to_price_ratio": (
        "A place in a workshop, over the price of a bin",
        COSTS,
        "workshop_cost_to_price_ratio",
        "",
    ),
    "unit_price_multiplier": (
        "Price of the tender over that of the program file",
        COSTS,
        "unit_price_multiplier",
        "",
    ),
}
WORM_LABELS = {
    "doubling_days": "Days in which the worms of a new bin double",
    "ceiling_kg_per_m2": "Most worms on a square metre of tray",
    "feed_kg_per_kg_day": "Food that a kilogram of worms takes in a day",
    "startup_share": "Share of it in the first four weeks",
    "starter_kg": "Worms given with a bin",
    "bed_above_air_c": "How much warmer the bed is than the air in cold months",
    "least_appetite_share": "Least appetite of the year, over the full one",
    "feeding_lowest_c": "Temperature below which worms do not feed",
    "feeding_optimum_low_c": "Lower end of their best temperatures",
    "feeding_optimum_high_c": "Upper end of their best temperatures",
    "feeding_highest_c": "Temperature that kills them",
}
ALWAYS_DRAWN = (
    "no_show_share",
    "copayment_halving_price_share",
    "workshop_in_use_odds_ratio",
    "feed_household_size_exponent",
    "other_cost_to_price_ratio",
    "workshop_cost_to_price_ratio",
    "unit_price_multiplier",
)


def worm_factor(table: FactorTable, factor_id: str) -> Factor:
    """Row of a worm factor, that of new bins where there are several."""
    rows = [row for row in table if row.factor_id == factor_id]
    of_new_bins = any(row.applies_to == NEW_BIN for row in rows)
    return table.find(factor_id, NEW_BIN if of_new_bins else "")


def priors_of(stated: Mapping[str, Prior], table: FactorTable) -> dict[str, Belief]:
    """Every prior there is, the program file's in place of the tables'."""
    known = {
        name: factor_belief(name, label, driver, table.find(factor_id, applies_to))
        for name, (label, driver, factor_id, applies_to) in FACTORS.items()
    }
    for dwelling in DWELLINGS:
        row = table.find("interest_share", dwelling)
        label = f"Share of households that say they want a bin: {dwelling}s"
        known[f"interest_share_{dwelling}"] = factor_belief(row.factor_id, label, INTEREST, row)
        place = "apartment_after_12_months" if dwelling == "apartment" else "after_12_months"
        row = table.find("in_use_share", place)
        label = f"Share of bins in use after 12 months: {dwelling}s"
        known[f"in_use_12_months_share_{dwelling}"] = factor_belief("", label, IN_USE, row)
    for factor_id in WORM_FACTOR_IDS:
        row = worm_factor(table, factor_id)
        known[factor_id] = factor_belief(factor_id, WORM_LABELS[factor_id], WORMS, row)
    named = {name: replace(belief, name=name) for name, belief in known.items()}
    for name, prior in stated.items():
        if name in named:
            old = named[name]
            named[name] = prior_belief(name, old.label, old.unit, old.driver, prior)
    return named


def rank_belief(name: str, label: str, driver: str) -> Belief:
    """Place of a draw among draws that are put in order, even over 0 to 1."""
    origin = "Draws of the survey or of several factors, in order of their result"
    return Belief(name, label, "rank", driver, "uniform", 0.5, 0.0, 1.0, origin)


def as_beta(belief: Belief) -> Belief:
    """Put a belief in a share as a beta distribution with its central value and variance."""
    _, variance = moments(belief)
    if belief.low == belief.high or variance == 0.0:
        return belief
    parameters = beta_parameters(belief.value, variance)
    made = beta_belief(belief.name, belief.label, belief.driver, parameters, belief.origin)
    return replace(made, factor=belief.factor)
