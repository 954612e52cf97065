"""Priors: every number that is uncertain before anything is measured, in plain words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.messages import said
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

    from planner.factors import FactorTable
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


FACTORS = {
    "doing_over_saying_share": INTEREST,
    "take_up_next_year_ratio": INTEREST,
    "no_show_share": INTEREST,
    "copayment_halving_price_share": COPAYMENT,
    "retention_shape": IN_USE,
    "workshop_in_use_odds_ratio": WORKSHOP,
    "feed_kg_per_week": FEED,
    "feed_household_size_exponent": SIZE,
    "new_composter_share": ROUTES,
    "residual_bin_share": ROUTES,
    "food_collection_residual_ratio": ROUTES,
    ANYWAY: LEAKAGE,
    THROWN_AWAY: LEAKAGE,
    "other_cost_to_price_ratio": COSTS,
    "workshop_cost_to_price_ratio": COSTS,
    "unit_price_multiplier": COSTS,
}
"""What each number drives; it is called as its factor is, but for the feed."""

NAMED_APART = {"feed_kg_per_week": "fed_kg_per_household_week"}
ALWAYS_DRAWN = (
    "no_show_share",
    "copayment_halving_price_share",
    "workshop_in_use_odds_ratio",
    "feed_household_size_exponent",
    "other_cost_to_price_ratio",
    "workshop_cost_to_price_ratio",
    "unit_price_multiplier",
)


def label_of(name: str) -> str:
    """Say what an uncertain number is, in the language of papers."""
    return said(f"plan.belief.{name}")


def priors_of(stated: Mapping[str, Prior], table: FactorTable) -> dict[str, Belief]:
    """Every prior there is, the program file's in place of the tables'."""
    known = {
        name: factor_belief(name, label_of(name), driver, table.find(NAMED_APART.get(name, name)))
        for name, driver in FACTORS.items()
    }
    for dwelling in DWELLINGS:
        row = table.find("interest_share", dwelling)
        label = label_of(f"interest_share_{dwelling}")
        known[f"interest_share_{dwelling}"] = factor_belief(row.factor_id, label, INTEREST, row)
        place = "apartment_after_12_months" if dwelling == "apartment" else "after_12_months"
        row = table.find("in_use_share", place)
        label = label_of(f"in_use_12_months_share_{dwelling}")
        known[f"in_use_12_months_share_{dwelling}"] = factor_belief("", label, IN_USE, row)
    for factor_id in WORM_FACTOR_IDS:
        row = table.of_new_bin(factor_id)
        known[factor_id] = factor_belief(factor_id, label_of(factor_id), WORMS, row)
    named = {name: replace(belief, name=name) for name, belief in known.items()}
    for name, prior in stated.items():
        if name in named:
            old = named[name]
            named[name] = prior_belief(name, old.label, old.unit, old.driver, prior)
    return named


def rank_belief(name: str, label: str, driver: str) -> Belief:
    """Place of a draw among draws that are put in order, even over 0 to 1."""
    origin = said("plan.origin.rank")
    return Belief(name, label, "rank", driver, "uniform", 0.5, 0.0, 1.0, origin)


def as_beta(belief: Belief) -> Belief:
    """Put a belief in a share as a beta distribution with its central value and variance."""
    _, variance = moments(belief)
    if belief.low == belief.high or variance == 0.0:
        return belief
    parameters = beta_parameters(belief.value, variance)
    made = beta_belief(belief.name, belief.label, belief.driver, parameters, belief.origin)
    return replace(made, factor=belief.factor)
