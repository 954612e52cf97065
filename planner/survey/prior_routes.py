"""Prior routes: where food scraps went before the bin, by area and dwelling."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.tables import DWELLINGS, PRIOR_SHARES

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_ANSWERS_IN_GROUP = 30
"""Fewest answers from which a group's own shares are taken."""


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
        For each area and dwelling, whose answers its shares rest on.
    answers_count
        Baseline answers in all.
    """

    area_ids: tuple[str, ...]
    shares: NDArray[np.float64]
    basis: tuple[tuple[str, ...], ...]
    answers_count: int


def prior_routes(
    answers: pl.DataFrame, weights: NDArray[np.float64], areas: pl.DataFrame
) -> PriorRoutes:
    """Estimate prior shares by area and dwelling, pooled where answers do not suffice.

    Weighted means over the first of these that has at least 30 baseline answers: the
    dwelling in its area; the dwelling in all areas with the same kerbside service; the
    area; the service; all. Dwellings are told apart because those that feed a bin less
    may also have thrown away more.

    Parameters
    ----------
    answers
        Query prior_shares, a row an answer.
    weights
        Shape (1 + draws_count, answers).
    areas
        Query bins_by_area: area_id, kerbside_service.

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
        [_members(answers, area_id, service, dwelling) for dwelling in DWELLINGS]
        for area_id, service in areas.select("area_id", "kerbside_service").iter_rows()
    ]
    known: dict[str, NDArray[np.float64]] = {}
    for row in cells:
        for member, basis in row:
            if basis not in known:
                known[basis] = _means(shares, weights, member)
    return PriorRoutes(
        tuple(areas["area_id"]),
        np.stack([np.stack([known[basis] for _, basis in row], axis=1) for row in cells], axis=1),
        tuple(tuple(basis for _, basis in row) for row in cells),
        answers.height,
    )


def _members(
    answers: pl.DataFrame, area_id: str, service: str, dwelling: str
) -> tuple[NDArray[np.bool_], str]:
    """Choose the answers that a cell rests on, and say which they are."""
    in_area = pl.col("area_id") == area_id
    in_service = pl.col("kerbside_service").cast(pl.String) == service
    of_dwelling = pl.col("dwelling").cast(pl.String) == dwelling
    service_words = f"areas with {service.replace('_', ' ')}"
    choices = (
        (in_area & of_dwelling, f"{dwelling} answers in {area_id}"),
        (in_service & of_dwelling, f"{dwelling} answers in {service_words}"),
        (in_area, f"all answers in {area_id}"),
        (in_service, f"all answers in {service_words}"),
    )
    for condition, basis in choices:
        member = answers.select(condition).to_series().to_numpy()
        if member.sum() >= LEAST_ANSWERS_IN_GROUP:
            return member, basis
    return np.ones(answers.height, dtype=bool), "all answers"


def _means(
    shares: NDArray[np.float64], weights: NDArray[np.float64], member: NDArray[np.bool_]
) -> NDArray[np.float64]:
    chosen = weights[:, member]
    return np.asarray((chosen @ shares[member]) / chosen.sum(axis=1, keepdims=True))
