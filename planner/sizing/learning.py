"""Learning: what was believed before, what was measured, and what to believe now."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import NORMAL_95, Numbers
from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.messages import said
from planner.sizing.beliefs import (
    Belief,
    beta_belief,
    beta_parameters,
    factor_belief,
    moments,
)
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.factors import FactorTable
    from planner.program.sizing import Prior, Sizing
    from planner.sizing.context import Measured


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


def priors_of(stated: Mapping[str, Prior], table: FactorTable) -> dict[str, Belief]:
    """Every prior there is, the program file's in place of the tables'."""
    rows = {
        name: (driver, table.find(NAMED_APART.get(name, name))) for name, driver in FACTORS.items()
    }
    for dwelling in DWELLINGS:
        place = "apartment_after_12_months" if dwelling == "apartment" else "after_12_months"
        rows[f"interest_share_{dwelling}"] = INTEREST, table.find("interest_share", dwelling)
        rows[f"in_use_12_months_share_{dwelling}"] = IN_USE, table.find("in_use_share", place)
    rows |= {factor_id: (WORMS, table.of_new_bin(factor_id)) for factor_id in WORM_FACTOR_IDS}
    known = {name: factor_belief(name, *row) for name, row in rows.items()}
    for name in known.keys() & stated.keys():
        prior = stated[name]
        known[name] = replace(
            known[name],
            **prior.model_dump(include={"shape", "value", "low", "high"}),
            origin=prior.source or f"program.toml, sizing.priors.{name}",
            factor=None,
        )
    return known


def rank_belief(name: str, label: str, driver: str) -> Belief:
    """Place of a draw among draws that are put in order, even over 0 to 1."""
    return Belief(name, label, "rank", driver, "uniform", 0.5, 0.0, 1.0, said_origin("rank"))


def as_beta(belief: Belief) -> Belief:
    """Put a belief in a share as a beta distribution with its central value and variance."""
    _, variance = moments(belief)
    if belief.low == belief.high or variance == 0.0:
        return belief
    parameters = beta_parameters(belief.value, variance)
    made = beta_belief(belief.name, belief.label, belief.driver, parameters, belief.origin)
    return replace(made, factor=belief.factor)


LEAST_VARIANCE = 1e-12

UNKNOWN_DESIGN_EFFECT = 10.0
"""Where nothing says how areas differ, ten households count as one answer: a judgement."""


@dataclass(frozen=True)
class Learned:
    """A belief before and after, and the measurement between, each as value, low, high."""

    name: str
    label: str
    unit: str
    # each with its value and 95% limits
    prior: tuple[float, float, float]
    measured: tuple[float, float, float]
    posterior: tuple[float, float, float]
    # number of independent answers that the measurement is worth; None for a feed
    effective_size: float | None


def effective_sample_size(share: float, variance: float) -> float:
    """Size of a simple random sample that would know a share as well.

    Notes
    -----
    ``n_eff = p (1 − p) / V``: the answers over the design effect.

    References
    ----------
    Kish, L. (1965), Survey Sampling, Wiley, section 8.2; Korn, E. L. and Graubard, B. I.
    (1998), Survey Methodology 24, 193-201.

    Examples
    --------
    >>> round(effective_sample_size(0.5, 0.0025), 6)
    100.0
    """
    return share * (1.0 - share) / max(variance, LEAST_VARIANCE)


def beta_binomial(
    prior: tuple[float, float], share: float, effective_size: float, weight: float = 1.0
) -> tuple[float, float]:
    """Parameters of the beta belief in a share after it was measured.

    Parameters
    ----------
    prior
        Parameters α, β of the belief before.
    share, effective_size
        Measured share, and the number of independent answers that it is worth.
    weight
        What an answer of last year counts for next year, 0 to 1.

    Notes
    -----
    ``α + w n p``, ``β + w n (1 − p)`` (conjugate updating; the weight makes it a power prior).

    References
    ----------
    Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd ed., CRC, section 2.4. Ibrahim,
    J. G. and Chen, M.-H. (2000), Power prior distributions for regression models,
    Statistical Science 15, 46-60. Ghitza, Y. and Gelman, A. (2013), American Journal of
    Political Science 57, 762-776 (effective sample size under a design).

    Examples
    --------
    >>> beta_binomial((1.0, 1.0), 0.25, 8.0)
    (3.0, 7.0)
    """
    counted = weight * effective_size
    return prior[0] + counted * share, prior[1] + counted * (1.0 - share)


def normal_update(
    prior: tuple[float, float], measured: tuple[float, float], weight: float = 1.0
) -> tuple[float, float]:
    """Mean and standard deviation of a normal belief after a normal measurement.

    Parameters
    ----------
    prior, measured
        Mean and standard deviation, on the log scale for a quantity above 0.
    weight
        What last year's measurement counts for next year, 0 to 1.

    Notes
    -----
    Precisions (1/variance) add up, the measurement's times the weight; the mean is that of
    the two by precision.

    References
    ----------
    Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd ed., CRC, section 2.5.

    Examples
    --------
    >>> mean, deviation = normal_update((0.0, 1.0), (1.0, 1.0))
    >>> round(mean, 6), round(deviation**2, 6)
    (0.5, 0.5)
    """
    before = 1.0 / prior[1] ** 2
    seen = weight / max(measured[1] ** 2, LEAST_VARIANCE)
    return (
        (before * prior[0] + seen * measured[0]) / (before + seen),
        float(np.sqrt(1.0 / (before + seen))),
    )


def clustered_size(counts: Numbers, sizes: Numbers) -> float:
    """Effective number of households behind a share that differs from area to area.

    Parameters
    ----------
    counts, sizes
        Shape (areas,): households that did so, and households in all.

    Returns
    -------
    float
        Households over the design effect, never more than the households. With a single
        area nothing is known of how areas differ: UNKNOWN_DESIGN_EFFECT.

    Notes
    -----
    The variance of the ratio estimate between areas, ``Σ (x − p n)² · m/(m − 1) / N²``, is
    set against ``p (1 − p) / N`` (Kish 1965, section 5.3).
    """
    sizes, counts = sizes[sizes > 0], counts[sizes > 0]
    total = float(sizes.sum())
    if sizes.size < 2 or counts.sum() in (0.0, total):
        return total / UNKNOWN_DESIGN_EFFECT
    share = float(counts.sum()) / total
    between = ((counts - share * sizes) ** 2).sum() * sizes.size / (sizes.size - 1) / total**2
    return min(total, effective_sample_size(share, float(between)))


def said_origin(key: str, **filled: str | int) -> str:
    """Say where a number comes from, in the language of papers."""
    return said(f"plan.origin.{key}", **filled)


def learn_share(
    prior: Belief, share: float, size: float, weight: float, origin: str, learned: list[Learned]
) -> Belief:
    """Update the beta belief in a share by what was measured of it, and keep both."""
    updated = beta_binomial((prior.alpha, prior.beta), share, size, weight)
    posterior = beta_belief(prior.name, prior.label, prior.driver, updated, origin)
    measured = beta_belief("", "", "", (share * size + 0.5, (1.0 - share) * size + 0.5), "")
    learned.append(
        Learned(
            prior.name,
            prior.label,
            prior.unit,
            (prior.value, prior.low, prior.high),
            (share, measured.low, measured.high),
            (posterior.value, posterior.low, posterior.high),
            size,
        )
    )
    return posterior


def learn_amount(
    prior: Belief, draws: Numbers, sizing: Sizing, measured: Measured, learned: list[Learned]
) -> Belief:
    """Update a quantity above zero on the log scale."""
    even = (np.arange(1024) + 0.5) / 1024
    logs = np.log(np.maximum(prior.quantile(even), 1e-9))
    # logarithm of the central value, and standard deviation of those of the replicates
    seen = float(np.log(draws[0])), float(np.log(draws[1:]).std())
    mean, deviation = normal_update(
        (float(logs.mean()), float(logs.std())), seen, sizing.last_year_weight
    )
    limits = _limits_of_log(mean, deviation)
    value, low, high = limits
    origin = said_origin("survey", origin=prior.origin, year=measured.reporting_year)
    before, shown = (prior.value, prior.low, prior.high), _limits_of_log(*seen)
    learned.append(Learned(prior.name, prior.label, prior.unit, before, shown, limits, None))
    return replace(prior, shape="lognormal", value=value, low=low, high=high, origin=origin)


def _limits_of_log(mean: float, deviation: float) -> tuple[float, float, float]:
    """Middle and 95% limits of a number whose log is normal."""
    middle, low, high = (float(np.exp(mean + z * deviation)) for z in (0.0, -NORMAL_95, NORMAL_95))
    return middle, low, high
