"""The list of uncertain inputs of a plan: priors, and what measuring has taught."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.errors import ProgramError
from planner.messages import did_you_mean, or_known, said, say
from planner.sizing.beliefs import Belief, beta_belief, beta_parameters, label_of, moments
from planner.sizing.context import AGES_MONTHS
from planner.sizing.groups import LEAST_REGISTRATIONS
from planner.sizing.learning import (
    ALWAYS_DRAWN,
    EMISSIONS,
    INTEREST,
    ROUTES,
    STATED_CORRELATIONS,
    Learned,
    as_beta,
    clustered_size,
    effective_sample_size,
    learn_amount,
    learn_share,
    priors_of,
    rank_belief,
    said_origin,
)
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from planner.factors import FactorTable
    from planner.program import Program
    from planner.program.sizing import Sizing
    from planner.sizing.context import Evidence, Measured, SurveyedRoutes
    from planner.sizing.groups import Groups

NEXT_TO_NONE = 1e-6
LEAST_TELLING_SHARE = 0.5
"""Share of draws that must tell the curve's shape, or what is believed of it stays."""


@dataclass(frozen=True)
class Inputs:
    """Every uncertain number, their correlations, and what was learnt."""

    beliefs: tuple[Belief, ...]
    correlations: Mapping[tuple[str, str], float]  # rank correlation of pairs of names
    learned: tuple[Learned, ...]  # beliefs before and after the measurements
    # demand follows from last year's registrations rather than from stated interest
    uses_take_up: bool

    def belief(self, name: str) -> Belief:
        """Find a belief by its name."""
        return next(belief for belief in self.beliefs if belief.name == name)


def inputs_of(
    program: Program,
    table: FactorTable,
    groups: Groups,
    evidence: Evidence,
    measured: Measured | None,
    routes: SurveyedRoutes | None,
) -> Inputs:
    """List the uncertain inputs of a plan.

    A number of program.toml's [sizing.priors] takes the place of the published or assumed
    one. Where it was measured, the prior is updated: shares as beta-binomial with the
    survey's effective sample size, the feed as normal on the log scale, each measurement
    counted with `last_year_weight`, since next year is another year.

    Raises
    ------
    ProgramError
        A prior or a correlation is of a number that there is not.
    """
    sizing = program.sizing
    known = priors_of(sizing.priors, table)
    uses_take_up = groups.registered_in_year.sum() >= LEAST_REGISTRATIONS
    learned: list[Learned] = []
    chosen = [
        *_demand(known, sizing, groups, learned, uses_take_up=uses_take_up),
        *_retention(known, sizing, measured, learned),
        _feed(known["feed_kg_per_week"], sizing, measured, learned),
        *_routes(known, routes),
        *_leakage(known, program, measured, learned),
        no_show_belief(known["no_show_share"], evidence.turnout, sizing, learned),
        *(known[name] for name in ALWAYS_DRAWN if name != "no_show_share"),
        *(known[name] for name in WORM_FACTOR_IDS),
        rank_belief("emission_factors_rank", label_of("emission_factors_rank"), EMISSIONS),
    ]
    correlations = {
        **STATED_CORRELATIONS,
        **{one.between: one.rank_correlation for one in sizing.correlations},
    }
    _check_names(sizing, [belief.name for belief in chosen], known)
    return Inputs(tuple(chosen), correlations, tuple(learned), uses_take_up)


def _demand(
    known: Mapping[str, Belief],
    sizing: Sizing,
    groups: Groups,
    learned: list[Learned],
    *,
    uses_take_up: bool,
) -> list[Belief]:
    """Interest and what becomes of it, or last year's take-up."""
    interest = {
        dwelling: _interest(known[f"interest_share_{dwelling}"], dwelling, sizing, learned)
        for dwelling in DWELLINGS
    }
    doing = known["doing_over_saying_share"]
    if not uses_take_up:
        return [*interest.values(), doing]
    return [
        *(_take_up(interest[name], doing, name, sizing, groups, learned) for name in DWELLINGS),
        known["take_up_next_year_ratio"],
    ]


def _interest(prior: Belief, dwelling: str, sizing: Sizing, learned: list[Learned]) -> Belief:
    believed = as_beta(prior)
    for survey in sizing.interest:
        if survey.dwelling != dwelling:
            continue
        share = survey.interested_count / survey.asked_count
        size = survey.asked_count / survey.design_effect
        origin = said_origin("asked", origin=believed.origin, count=survey.asked_count)
        return learn_share(believed, share, size, 1.0, origin, learned)
    return believed


def _take_up(
    interest: Belief,
    doing: Belief,
    dwelling: str,
    sizing: Sizing,
    groups: Groups,
    learned: list[Learned],
) -> Belief:
    """Share of households without a registration that register in a year."""
    mean_i, variance_i = moments(interest)
    mean_d, variance_d = moments(doing)
    mean = mean_i * mean_d
    variance = (variance_i + mean_i**2) * (variance_d + mean_d**2) - mean**2
    name = f"take_up_share_{dwelling}"
    parameters = beta_parameters(mean, variance)
    prior = beta_belief(name, label_of(name), INTEREST, parameters, said_origin("product"))
    of_dwelling = groups.dwelling == DWELLINGS.index(dwelling)
    counts = groups.registered_in_year[of_dwelling]
    sizes = np.maximum(groups.unregistered[of_dwelling] + counts, counts)
    if sizes.sum() == 0:
        return prior
    share, size = float(counts.sum() / sizes.sum()), clustered_size(counts, sizes)
    origin = said_origin("registrations", origin=prior.origin)
    return learn_share(prior, share, size, sizing.last_year_weight, origin, learned)


def no_show_belief(
    prior: Belief, turnout: pl.DataFrame, sizing: Sizing, learned: list[Learned]
) -> Belief:
    """Learn the share that does not come from the places held at days of the council's own."""
    if turnout.is_empty():
        return prior
    absent = turnout["absent_count"].to_numpy().astype(np.float64)
    places = absent + turnout["came_count"].to_numpy()
    share, size = float(absent.sum() / places.sum()), clustered_size(absent, places)
    believed = as_beta(prior)
    counted = {"count": int(places.sum()), "days": len(places)}
    origin = said_origin("places", origin=believed.origin, **counted)
    return learn_share(believed, share, size, sizing.last_year_weight, origin, learned)


def _retention(
    known: Mapping[str, Belief],
    sizing: Sizing,
    measured: Measured | None,
    learned: list[Learned],
) -> list[Belief]:
    """Shares in use after a year, by dwelling, and the shape of the curve."""
    priors = [as_beta(known[f"in_use_12_months_share_{name}"]) for name in DWELLINGS]
    if measured is None:
        return [*priors, known["retention_shape"]]
    beliefs = []
    for code, prior in enumerate(priors):
        draws = measured.in_use_share[:, code, 1]
        share = float(draws[0])
        size = effective_sample_size(share, float(draws[1:].var()))
        origin = said_origin("followup", origin=prior.origin, year=measured.reporting_year)
        weight = sizing.last_year_weight
        beliefs.append(learn_share(prior, share, size, weight, origin, learned))
    shape, prior = _curve_shape(measured.in_use_share.mean(axis=1)), known["retention_shape"]
    tells = shape > 0.0
    if not tells[0] or tells.mean() < LEAST_TELLING_SHARE:
        return [*beliefs, prior]
    return [*beliefs, learn_amount(prior, shape[tells], sizing, measured, learned)]


def _curve_shape(in_use_share: Numbers) -> Numbers:
    """Shape of the Weibull curve through the shares at the first and last age, by draw.

    NaN where next to all bins are in use at either age, or next to none: any shape does that.
    """
    shares = in_use_share[:, [0, 2]]
    told = np.where((shares > NEXT_TO_NONE) & (shares < 1.0 - NEXT_TO_NONE), shares, np.nan)
    early, late = -np.log(told).T
    return np.asarray(np.log(late / early) / np.log(AGES_MONTHS[2] / AGES_MONTHS[0]))


def _feed(
    prior: Belief, sizing: Sizing, measured: Measured | None, learned: list[Learned]
) -> Belief:
    if measured is None:
        return prior
    return learn_amount(prior, measured.full_feed_kg_per_week, sizing, measured, learned)


def _routes(known: Mapping[str, Belief], routes: SurveyedRoutes | None) -> list[Belief]:
    if routes is None:
        names = ("new_composter_share", "residual_bin_share", "food_collection_residual_ratio")
        return [known[name] for name in names]
    label = said("plan.belief.surveyed_routes_rank", answers=routes.answers_count)
    return [rank_belief("surveyed_routes_rank", label, ROUTES)]


def _leakage(
    known: Mapping[str, Belief],
    program: Program,
    measured: Measured | None,
    learned: list[Learned],
) -> list[Belief]:
    """Take both leaks as the program file states them, as surveyed, or as assumed."""
    stated = program.leakage.model_dump(exclude_none=True)
    leaks = None if measured is None else measured.leakage
    beliefs = []
    for name, draws in (
        (ANYWAY, None if leaks is None else leaks.composted_anyway_share),
        (THROWN_AWAY, None if leaks is None else leaks.thrown_away_share),
    ):
        prior, is_surveyed = known[name], leaks is not None and leaks.is_surveyed(name)
        if name in stated:
            one = stated[name]
            origin = said_origin("stated")
            prior = replace(prior, shape="fixed", value=one, low=one, high=one, origin=origin)
        elif draws is not None and is_surveyed and 0.0 < draws[0] < 1.0:
            # the assumption is nobody's measurement: answers take its place, it adds nothing
            share = float(draws[0])
            size = effective_sample_size(share, float(draws[1:].var()))
            nothing = replace(prior, alpha=0.0, beta=0.0)
            prior = learn_share(nothing, share, size, 1.0, said_origin("leak_answers"), learned)
        beliefs.append(prior)
    return beliefs


def _check_names(sizing: Sizing, drawn: list[str], known: Mapping[str, Belief]) -> None:
    asked = [("priors", name) for name in sizing.priors]
    asked += [("correlations", name) for one in sizing.correlations for name in one.between]
    names = sorted({*drawn, *known})
    for block, name in asked:
        if name in names:
            continue
        hint = or_known(did_you_mean(name, names), names)
        raise ProgramError(say("plan.fail.no_number", block=block, name=name, hint=hint))
