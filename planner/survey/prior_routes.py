"""Prior routes: where food scraps went before the bin, by area and dwelling."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy

from planner.arrays import Flags, Integers, Numbers, places_of, quotient
from planner.messages import paper
from planner.survey.feed import reports_of
from planner.survey.row_weights import summed_by
from planner.survey.small_areas import draw_effects, effective_weights, fit_areas
from planner.tables import DWELLINGS, PRIOR_SHARES, RESIDUAL_BIN

if TYPE_CHECKING:
    from planner.survey.feed import Calibration
    from planner.survey.row_weights import Weights

COLLECTIONS = ("garden_organics", "food_and_garden_organics")
"""Kerbside services set against the residual bin alone."""

LEAST_FEEDING_IN_BOTH = 30
"""Fewest feeding households in both rounds from which shares lean towards feed."""

MOST_SCALINGS = 100
NEAR_ENOUGH = 1e-6
"""Greatest relative step after which the town's shares of what is fed count as leant."""

WIDEST_SCALES = (1e-6, 1e6)
"""Scales of a route beyond which nothing moves: a cell that used one route alone keeps it."""

LEAST_ANSWERS_OF_SERVICE = 10
"""Fewest answers from which a service's own division of the other routes is taken."""

SPREAD_OF_AREAS = 0.5
"""Prior scale of the spread between areas with one service, on the logit scale. Assumed;
answers overrule it."""

SPREAD_OF_COEFFICIENTS = 1.5
"""Prior standard deviation of what a dwelling or service adds to the logit: odds 4.5 times."""

WITHIN = (0.02, 0.98)
"""Shares within which an answer moves the logit: beyond, a step would overshoot."""

LEAST_DISPERSION = 1e-3
"""Least spread of answers about their share, so that equal answers are not taken as certain."""

WIDEST_SHIFT = 8.0
BISECTIONS = 40
"""Halvings of the shift that brings the town's own mean back."""


@dataclass(frozen=True)
class PriorRoutes:
    """Shares of food scraps by prior route."""

    area_ids: tuple[str, ...]  # areas, in the order of the second axis
    # shape (1 + draws_count, areas, dwellings, 5): shares by route, dwellings in the order of
    # tables.DWELLINGS, routes in that of tables.PRIOR_SHARES
    shares: Numbers
    # for each area its kerbside service, its answers, and the weight of these in its shares
    rests_on: tuple[tuple[str, int, float], ...]
    answers_count: int  # baseline answers in all
    # shape (1 + draws_count, areas, dwellings): weighted share of the answers behind each that was
    # given after the household's own hand-over
    recalled_share: Numbers
    # standard deviation of the residual-bin share between households of one area
    household_spread: float
    # in-use bins with an answer on feed whose household also answered a baseline round; 0 where
    # they were too few to tilt the shares by feed
    linked_count: int = 0

    def basis(self, place: int) -> str:
        """Say whose answers the shares of an area rest on."""
        service, answers_count, own_weight = self.rests_on[place]
        say = paper()
        others = say.say(f"said.like_areas.{service}")
        if answers_count == 0:
            return say.say("said.borrowed_whole", others=others)
        return say.say("said.borrowed_rest", weight=say.share(own_weight), others=others)

    def tilted_by_feed(
        self, linked: pl.DataFrame, weights: Weights, calibration: Calibration, fed_kg: Numbers
    ) -> PriorRoutes:
        """Lean the shares towards those who keep and feed their bin.

        A plain mean over all who were given a bin is not what the scraps did before:
        households that feed more may have thrown away more. For each route the mean
        weighted by feed over the plain mean of the same households, dwelling by dwelling,
        is the tilt. Each route's shares are scaled alike, and every cell's to add up to 1,
        until the town's shares of what is fed are leant by the tilt: scaling once would fall
        short where areas differ. With fewer than 30 feeding households in both rounds
        nothing is tilted.

        Parameters
        ----------
        linked
            Query followup_answers joined to the households' prior shares; those out of use
            feed nothing.
        weights
            Shape (1 + draws_count, rows of linked): follow-up weights.
        fed_kg
            What cells feed in relation to each other, to be broadcast to shape
            (1 + draws_count, areas, dwellings).
        """
        reports = reports_of(linked)
        feeding = int(((reports.kg > 0) | (reports.litres > 0)).sum())
        if feeding < LEAST_FEEDING_IN_BOTH:
            return self
        shares = shares_of(linked)
        tilted, plain = np.zeros((2, weights.shape[0], len(PRIOR_SHARES)))
        for name in DWELLINGS:
            own = (linked["dwelling"].cast(pl.String) == name).to_numpy()
            if not own.any():
                continue
            own_weights, own_shares = weights[:, own], shares[own]
            fed = calibration.weighed_kg(own_weights, reports.of(own), own_shares)
            tilted += fed
            mean = (own_weights @ own_shares) / own_weights.sum(axis=1)[:, None]
            plain += fed.sum(axis=1, keepdims=True) * mean
        tilt = quotient(tilted, plain, otherwise=1.0)
        leant = tilt * self.town_shares(fed_kg)
        leant /= leant.sum(axis=1, keepdims=True)
        return replace(self.scaled_to(leant, fed_kg), linked_count=feeding)

    def town_shares(self, fed_kg: Numbers) -> Numbers:
        """Shares of what is fed in the whole town by route, shape (1 + draws_count, 5)."""
        return np.asarray(np.einsum("dc,dcr->dr", self._of_town(fed_kg), self._by_cell))

    def scaled_to(self, town_shares: Numbers, fed_kg: Numbers) -> PriorRoutes:
        """Scale routes alike in all cells of a draw until the town's shares come out.

        References
        ----------
        Deming and Stephan (1940), iterative proportional fitting (from memory): the margins
        are one for each cell and the town's shares of the routes.
        """
        of_town, scale = self._of_town(fed_kg), np.ones_like(town_shares)
        for _ in range(MOST_SCALINGS):
            total = np.einsum("dcr,dr->dc", self._by_cell, scale)
            found = scale * np.einsum("dc,dcr->dr", of_town / total, self._by_cell)
            step = quotient(town_shares, found, otherwise=1.0)
            scale = np.clip(scale * step, *WIDEST_SCALES)
            if np.abs(step - 1.0).max() < NEAR_ENOUGH:
                break
        # in place: with hundreds of areas each of these is tens of megabytes
        shares = self.shares * scale[:, None, None, :]
        shares /= shares.sum(axis=3, keepdims=True)
        return replace(self, shares=shares)

    @property
    def _by_cell(self) -> Numbers:
        """Shares, shape (1 + draws_count, cells, 5)."""
        return self.shares.reshape(self.shares.shape[0], -1, self.shares.shape[3])

    def _of_town(self, fed_kg: Numbers) -> Numbers:
        """Part of each cell in all that is fed, shape (1 + draws_count, cells)."""
        fed = np.broadcast_to(fed_kg, self.shares.shape[:3]).reshape(self.shares.shape[0], -1)
        return np.asarray(fed / fed.sum(axis=1, keepdims=True))


def shares_of(answers: pl.DataFrame) -> Numbers:
    """Shares that each answer gives its routes, shape (answers, 5), made to add up to 1."""
    shares = answers.select(PRIOR_SHARES).to_numpy()
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def prior_routes(
    answers: pl.DataFrame,
    weights: Weights,
    areas: pl.DataFrame,
    rng: np.random.Generator,
) -> PriorRoutes:
    """Estimate prior shares by area and dwelling, shrunk to areas with the same service.

    The residual-bin share by a logistic model with dwelling, kerbside service and a level of
    each area's own: an area with many answers keeps its own share, one with few takes that
    of its service. A common shift of each draw makes the answers' own mean come out again.
    What did not go to the residual bin is divided as those with the same kerbside service
    divide it (10 answers), or as all do.

    Parameters
    ----------
    answers
        Query prior_shares, a row an answer, one at least.
    weights
        Shape (1 + draws_count, answers).
    areas
        Query bins_by_area: area_id, kerbside_service.
    rng
        Draws the levels of the areas.
    """
    shares = shares_of(answers)
    cells = _Cells.of(answers, areas)
    residual, own_weight = _residual_shares(shares[:, RESIDUAL_BIN], weights, cells, rng)
    others = _other_routes(shares, weights, answers, areas)
    by_route = np.concatenate(
        [residual[..., None], (1.0 - residual)[..., None] * others[:, :, None, :]], axis=3
    )
    counts = np.bincount(cells.areas_of_answers, minlength=areas.height)
    services = areas["kerbside_service"].cast(pl.String)
    return PriorRoutes(
        tuple(areas["area_id"]),
        by_route,
        tuple(zip(services, counts.tolist(), own_weight.tolist(), strict=True)),
        answers.height,
        _recalled_shares(answers["is_recalled"].to_numpy(), weights, cells, own_weight),
        _household_spread(shares[:, RESIDUAL_BIN], weights[0], cells.areas_of_answers),
    )


@dataclass(frozen=True)
class _Cells:
    """Answers and cells (area by dwelling) with their covariates."""

    areas_of_answers: Integers
    of_answers: Integers  # cell of each answer
    areas: Integers
    covariates: Numbers

    @classmethod
    def of(cls, answers: pl.DataFrame, areas: pl.DataFrame) -> _Cells:
        service = areas["kerbside_service"].cast(pl.String)
        area_codes = np.repeat(np.arange(areas.height), len(DWELLINGS))
        dwelling_codes = np.tile(np.arange(len(DWELLINGS)), areas.height)
        columns = [np.ones(area_codes.size)]
        columns += [dwelling_codes == code for code in range(1, len(DWELLINGS))]
        columns += [(service == name).to_numpy()[area_codes] for name in COLLECTIONS]
        own = places_of(answers["area_id"], areas["area_id"])
        of_answers = own * len(DWELLINGS) + places_of(answers["dwelling"], DWELLINGS)
        return cls(own, of_answers, area_codes, np.column_stack(columns).astype(float))


def _residual_shares(
    residual: Numbers, weights: Weights, cells: _Cells, rng: np.random.Generator
) -> tuple[Numbers, Numbers]:
    """Residual-bin shares (draws, areas, dwellings), and the weight of each area's answers."""
    areas_count = cells.areas.size // len(DWELLINGS)
    effective = effective_weights(weights[0], cells.areas_of_answers, areas_count)
    # fitted levels follow their answers: residuals are too small by about an answer an area
    total, answering = effective.sum(), np.unique(cells.areas_of_answers).size
    freedom = total / max(total - answering, 1.0)
    centre = scipy.special.logit(np.clip(np.average(residual, weights=weights[0]), *WITHIN))

    def working(predictor: Numbers) -> tuple[Numbers, Numbers]:
        share = np.clip(scipy.special.expit(centre + predictor), *WITHIN)
        slope = share * (1.0 - share)
        error = residual - share
        dispersion = effective @ error**2 / (effective @ slope) * freedom
        return predictor + error / slope, np.maximum(dispersion, LEAST_DISPERSION) / (
            slope * effective
        )

    covariates = cells.covariates[cells.of_answers]
    spread = np.full(covariates.shape[1], SPREAD_OF_COEFFICIENTS)
    model = fit_areas(
        working, covariates, cells.areas_of_answers, areas_count, spread, SPREAD_OF_AREAS
    )
    effects = draw_effects(
        model, cells.covariates, cells.areas, SPREAD_OF_AREAS, weights.shape[0] - 1, rng
    )
    mass = np.bincount(cells.of_answers, weights[0], cells.areas.size)
    town = (weights @ residual) / weights.sum(axis=1)
    share = scipy.special.expit(_shifted(centre + effects.predictor, mass / mass.sum(), town))
    by_cell = np.asarray(share.reshape(-1, areas_count, len(DWELLINGS)))
    return by_cell, effects.own_weight


def _household_spread(residual: Numbers, weights: Numbers, areas: Integers) -> float:
    """Weighted standard deviation within areas."""
    total = np.maximum(np.bincount(areas, weights), 1e-300)
    mean = np.bincount(areas, weights * residual) / total
    return float(np.sqrt(np.average((residual - mean[areas]) ** 2, weights=weights)))


def _recalled_shares(
    is_recalled: Flags, weights: Weights, cells: _Cells, own_weight: Numbers
) -> Numbers:
    """Share of recall behind each cell: the area's own and the town's as they were mixed."""
    places, count = cells.areas_of_answers, own_weight.size
    total, recalled = (
        summed_by(some, places, count) for some in (weights, weights * is_recalled.astype(float))
    )
    town = recalled.sum(axis=1) / total.sum(axis=1)
    own = quotient(recalled, total)
    mixed = own_weight * own + (1.0 - own_weight) * town[:, None]
    return np.asarray(np.repeat(mixed[:, :, None], len(DWELLINGS), axis=2))


def _shifted(logits: Numbers, mass: Numbers, town: Numbers) -> Numbers:
    """Shift each draw's logits alike until their weighted mean share is the town's."""
    low, high = np.full((2, town.size), [[-WIDEST_SHIFT], [WIDEST_SHIFT]])
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        is_over = scipy.special.expit(logits + middle[:, None]) @ mass > town
        low, high = np.where(is_over, low, middle), np.where(is_over, middle, high)
    return np.asarray(logits + ((low + high) / 2.0)[:, None])


def _other_routes(
    shares: Numbers, weights: Weights, answers: pl.DataFrame, areas: pl.DataFrame
) -> Numbers:
    """How each area divides what did not go to the residual bin, (draws, areas, 4)."""
    service = answers["kerbside_service"].cast(pl.String).to_numpy()
    everywhere = _divided(shares, weights, np.ones(service.size, dtype=bool))
    by_service = {
        name: _divided(shares, weights, service == name)
        if (service == name).sum() >= LEAST_ANSWERS_OF_SERVICE
        else everywhere
        for name in set(areas["kerbside_service"].cast(pl.String))
    }
    return np.stack([by_service[n] for n in areas["kerbside_service"].cast(pl.String)], axis=1)


def _divided(shares: Numbers, weights: Weights, member: Flags) -> Numbers:
    """Divide what went elsewhere than to the residual bin, (draws, 4); alike if nothing did."""
    elsewhere = weights[:, member] @ np.delete(shares[member], RESIDUAL_BIN, axis=1)
    total = elsewhere.sum(axis=1, keepdims=True)
    return quotient(elsewhere, total, otherwise=1.0 / elsewhere.shape[1])
