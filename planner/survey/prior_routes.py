"""Prior routes: where food scraps went before the bin, by area and dwelling."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.feed import reports_of
from planner.tables import DWELLINGS, PRIOR_SHARES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.survey.feed import Calibration

LEAST_ANSWERS_IN_GROUP = 30
"""Fewest answers from which an area's or a service's own shares are taken."""

LEAST_ANSWERS_OF_DWELLING = 10
"""Fewest of every dwelling for which dwellings are told apart within a service: pooling
them would err more than so few answers do."""

LEAST_COMPOSTERS = 10
"""With fewer answers of either kind, households that composted are not told apart."""


@dataclass(frozen=True)
class PriorRoutes:
    """Shares of food scraps by prior route.

    Parameters
    ----------
    area_ids
        Areas, in the order of the second axis.
    shares
        Shape (1 + draws_count, areas, dwellings, 5): shares by route, dwellings in the
        order of tables.DWELLINGS, routes in that of tables.PRIOR_SHARES.
    basis
        For each area, whose answers its shares rest on.
    answers_count
        Baseline answers in all.
    recalled_share
        Shape (1 + draws_count, areas, dwellings): weighted share of the answers behind each
        that was given after the household's own hand-over.
    linked_count
        In-use bins with an answer on feed whose household also answered a baseline round;
        0 where they were too few to tilt the shares by feed.
    """

    area_ids: tuple[str, ...]
    shares: NDArray[np.float64]
    basis: tuple[tuple[str, ...], ...]
    answers_count: int
    recalled_share: NDArray[np.float64]
    linked_count: int = 0

    def tilted_by_feed(
        self,
        linked: pl.DataFrame,
        weights: NDArray[np.float64],
        calibration: Calibration,
    ) -> PriorRoutes:
        """Lean the shares towards those who keep and feed their bin.

        A plain mean over all who were given a bin is not what the scraps did before:
        households that feed more may have thrown away more. For each route the mean
        weighted by feed over the plain mean of the same households, dwelling by dwelling,
        is the tilt; tilted shares are scaled to add up to 1. With fewer than 30 feeding
        households in both rounds nothing is tilted.

        Parameters
        ----------
        linked
            Query followup_answers joined to the households' prior shares; those out of use
            feed nothing.
        weights
            Shape (1 + draws_count, rows of linked): follow-up weights.
        calibration
            What reports weigh.
        """
        told = reports_of(linked)
        feeding = int(((told.kg > 0) | (told.litres > 0)).sum())
        if feeding < LEAST_ANSWERS_IN_GROUP:
            return self
        shares = linked.select(PRIOR_SHARES).to_numpy()
        shares = shares / shares.sum(axis=1, keepdims=True)
        tilted, plain = np.zeros((2, weights.shape[0], len(PRIOR_SHARES)))
        for name in DWELLINGS:
            own = (linked["dwelling"].cast(pl.String) == name).to_numpy()
            if not own.any():
                continue
            own_weights, own_shares = weights[:, own], shares[own]
            fed = calibration.weighed_kg(own_weights, told.of(own), own_shares)
            tilted += fed
            plain += fed.sum(axis=1, keepdims=True) * _means(shares, weights, own)
        tilt = np.divide(tilted, plain, out=np.ones_like(plain), where=plain > 0.0)
        leaning = self.shares * tilt[:, None, None, :]
        return replace(
            self, shares=leaning / leaning.sum(axis=3, keepdims=True), linked_count=feeding
        )


def prior_routes(
    answers: pl.DataFrame,
    weights: NDArray[np.float64],
    areas: pl.DataFrame,
    bins_given: NDArray[np.float64],
) -> PriorRoutes:
    """Estimate prior shares by area and dwelling, pooled where answers do not suffice.

    For each area the first of these that its answers carry: weighted means of each
    dwelling in the area (30 answers of every dwelling that was given bins there); of each
    dwelling in all areas with the same kerbside service (10 of every such dwelling); of
    the area (30); of the service (30); of all. Dwellings are told apart all together or
    not at all: a pooled mean stands for the mix, not for its smallest part.

    Parameters
    ----------
    answers
        Query prior_shares, a row an answer.
    weights
        Shape (1 + draws_count, answers).
    areas
        Query bins_by_area: area_id, kerbside_service.
    bins_given
        Shape (areas, dwellings).

    Returns
    -------
    PriorRoutes

    Raises
    ------
    EstimateError
        There is no baseline answer.
    """
    if answers.is_empty():
        message = (
            "no baseline answer says where food scraps went before; without it nothing can "
            "be said of landfill. Load a baseline round with the five prior shares."
        )
        raise EstimateError(message)
    shares = answers.select(PRIOR_SHARES).to_numpy()
    shares = shares / shares.sum(axis=1, keepdims=True)
    cells = [
        _cells(answers, area_id, service, given)
        for (area_id, service), given in zip(
            areas.select("area_id", "kerbside_service").iter_rows(), bins_given > 0, strict=True
        )
    ]
    known = {basis: member for row in cells for basis, member in row}
    columns = np.column_stack([shares, answers["is_recalled"].to_numpy()])
    means = {basis: _means(columns, weights, member) for basis, member in known.items()}
    found = np.stack(
        [np.stack([means[basis] for basis, _ in row], axis=1) for row in cells], axis=1
    )
    return PriorRoutes(
        tuple(areas["area_id"]),
        found[..., :-1],
        tuple(tuple(dict.fromkeys(basis for basis, _ in row)) for row in cells),
        answers.height,
        found[..., -1],
    )


def _cells(
    answers: pl.DataFrame, area_id: str, service: str, is_given: NDArray[np.bool_]
) -> list[tuple[str, NDArray[np.bool_]]]:
    """For each dwelling of an area, whose answers its shares rest on, and which they are."""
    in_area = (answers["area_id"] == area_id).to_numpy()
    in_service = (answers["kerbside_service"].cast(pl.String) == service).to_numpy()
    dwelling = answers["dwelling"].cast(pl.String)
    of_dwelling = np.stack([(dwelling == name).to_numpy() for name in DWELLINGS])
    where = f"areas with {service.replace('_', ' ')}"
    for member, words, least in (
        (in_area, area_id, LEAST_ANSWERS_IN_GROUP),
        (in_service, where, LEAST_ANSWERS_OF_DWELLING),
    ):
        own = of_dwelling & member
        if is_given.any() and own[is_given].sum(axis=1).min() >= least:
            return [
                (f"{name} answers in {words}", chosen)
                if given
                else (f"all answers in {words}", member)
                for name, chosen, given in zip(DWELLINGS, own, is_given, strict=True)
            ]
    for member, words in ((in_area, area_id), (in_service, where)):
        if member.sum() >= LEAST_ANSWERS_IN_GROUP:
            return [(f"all answers in {words}", member)] * len(DWELLINGS)
    return [("all answers", np.ones(answers.height, dtype=bool))] * len(DWELLINGS)


def _means(
    shares: NDArray[np.float64], weights: NDArray[np.float64], member: NDArray[np.bool_]
) -> NDArray[np.float64]:
    chosen = weights[:, member]
    return np.asarray((chosen @ shares[member]) / chosen.sum(axis=1, keepdims=True))


@dataclass(frozen=True)
class Composters:
    """Baseline households that put food scraps on a garden compost before, and the others.

    Parameters
    ----------
    household_share
        Shape (1 + draws_count,): share of the households that composted.
    residual_bin_share, others_residual_bin_share
        Shape (1 + draws_count,): mean share of the scraps of each kind of household that
        went to the residual bin.
    least_count
        Answers of the smaller kind.
    """

    household_share: NDArray[np.float64]
    residual_bin_share: NDArray[np.float64]
    others_residual_bin_share: NDArray[np.float64]
    least_count: int


def composters(answers: pl.DataFrame, weights: NDArray[np.float64]) -> Composters | None:
    """Compare households that composted before with those that did not.

    Parameters
    ----------
    answers
        Query prior_shares, a row an answer.
    weights
        Shape (1 + draws_count, answers).

    Returns
    -------
    Composters or None
        None with fewer than ten of either kind.

    Examples
    --------
    >>> told = {name: [0.0] * 20 for name in PRIOR_SHARES}
    >>> told["prior_residual_bin_share"] = [0.4] * 10 + [1.0] * 10
    >>> told["prior_garden_compost_share"] = [0.6] * 10 + [0.0] * 10
    >>> found = composters(pl.DataFrame(told), np.ones((1, 20)))
    >>> [part.round(2).tolist() for part in (found.household_share, found.residual_bin_share)]
    [[0.5], [0.4]]
    """
    shares = answers.select(PRIOR_SHARES).to_numpy()
    shares = shares / shares.sum(axis=1, keepdims=True)
    residual = shares[:, PRIOR_SHARES.index("prior_residual_bin_share")]
    composted = shares[:, PRIOR_SHARES.index("prior_garden_compost_share")] > 0.0
    least = int(min(composted.sum(), (~composted).sum()))
    if least < LEAST_COMPOSTERS:
        return None
    of_both = weights @ np.stack([composted, ~composted], axis=1).astype(float)
    sums = weights @ np.stack([residual * composted, residual * ~composted], axis=1)
    means = sums / of_both
    return Composters(of_both[:, 0] / of_both.sum(axis=1), means[:, 0], means[:, 1], least)
