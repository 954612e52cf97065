"""Prior routes: where food scraps went before the bin, by area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

LEAST_ANSWERS_IN_GROUP = 30
"""Fewest answers from which an area's, or a service's, own shares are taken."""


@dataclass(frozen=True)
class PriorRoutes:
    """Shares of food scraps by prior route.

    Parameters
    ----------
    area_ids
        Areas, in the order of the second axis.
    shares
        Shape (1 + draws_count, areas, 5): shares by route, in the order of
        tables.PRIOR_SHARES.
    basis
        For each area, whose answers its shares rest on.
    answers_count
        Baseline answers in all.
    """

    area_ids: tuple[str, ...]
    shares: NDArray[np.float64]
    basis: tuple[str, ...]
    answers_count: int

    @property
    def residual_bin_share(self) -> NDArray[np.float64]:
        """Share that went to the residual bin, shape (1 + draws_count, areas)."""
        return np.asarray(self.shares[:, :, PRIOR_SHARES.index("prior_residual_bin_share")])


def prior_routes(
    answers: pl.DataFrame, weights: NDArray[np.float64], areas: pl.DataFrame
) -> PriorRoutes:
    """Estimate prior shares by area, pooled where an area's answers do not suffice.

    An area with at least 30 baseline answers has its own weighted means; otherwise those
    of all areas with the same kerbside service, if they have 30; otherwise those of all.

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
    members, basis = zip(
        *(
            _members(answers, area_id, service)
            for area_id, service in areas.select("area_id", "kerbside_service").iter_rows()
        ),
        strict=True,
    )
    return PriorRoutes(
        tuple(areas["area_id"]),
        np.stack([_means(shares, weights, member) for member in members], axis=1),
        basis,
        answers.height,
    )


def _members(answers: pl.DataFrame, area_id: str, service: str) -> tuple[NDArray[np.bool_], str]:
    choices: Sequence[tuple[NDArray[np.bool_], str]] = (
        ((answers["area_id"] == area_id).to_numpy(), "its own answers"),
        (
            (answers["kerbside_service"] == service).to_numpy(),
            f"answers of all areas with {service.replace('_', ' ')}",
        ),
    )
    for member, basis in choices:
        if member.sum() >= LEAST_ANSWERS_IN_GROUP:
            return member, basis
    return np.ones(answers.height, dtype=bool), "answers of all areas"


def _means(
    shares: NDArray[np.float64], weights: NDArray[np.float64], member: NDArray[np.bool_]
) -> NDArray[np.float64]:
    chosen = weights[:, member]
    return np.asarray((chosen @ shares[member]) / chosen.sum(axis=1, keepdims=True))
