"""Weights of a survey round: from those who answered to all who could have been asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.replicates import gamma_multipliers

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

LEAST_ANSWERS_IN_CLASS = 10
"""A response class with fewer answers is pooled with the other small ones."""

POOLED = "small strata together"


@dataclass(frozen=True)
class HouseholdLuck:
    """Random numbers of households, which follow them through all survey rounds.

    Parameters
    ----------
    place
        Column of each household.
    uniforms
        Shape (draws_count, households), between 0 and 1.
    """

    place: Mapping[str, int]
    uniforms: NDArray[np.float64]

    @classmethod
    def draw(
        cls, household_ids: pl.Series, draws_count: int, rng: np.random.Generator
    ) -> HouseholdLuck:
        """Draw the numbers of the households named, in the order of their ids."""
        ids = household_ids.unique().sort()
        return cls({name: i for i, name in enumerate(ids)}, rng.random((draws_count, ids.len())))

    def of(self, household_ids: pl.Series) -> NDArray[np.float64]:
        """Numbers of some households, shape (draws_count, n)."""
        return self.uniforms[:, [self.place[name] for name in household_ids]]


@dataclass(frozen=True)
class WaveWeights:
    """Weights of the households that answered one survey round.

    Parameters
    ----------
    wave_id
        Survey round.
    household_ids
        Those who answered, in the order of the columns of `weights`.
    weights
        Shape (1 + draws_count, answers): households that each answer stands for.
    asked_count
        Households asked.
    """

    wave_id: str
    household_ids: tuple[str, ...]
    weights: NDArray[np.float64]
    asked_count: int

    @property
    def answered_count(self) -> int:
        """Households that answered."""
        return len(self.household_ids)

    def of(self, household_ids: pl.Series) -> NDArray[np.float64]:
        """Weights of some of the households, shape (1 + draws_count, n)."""
        place = {name: i for i, name in enumerate(self.household_ids)}
        return self.weights[:, [place[name] for name in household_ids]]


def wave_weights(
    frame: pl.DataFrame,
    luck: HouseholdLuck,
    *,
    speaks_for: Literal["households asked", "process"] = "process",
) -> WaveWeights:
    """Weigh the answers of one survey round, with replicates.

    Base weight one over the inclusion probability, times the non-response adjustment of
    the household's response class (its stratum): the households that the class stands for
    over those that its answers stand for. Those who answered count as a simple random
    sample of their class. Classes with fewer than ten answers are pooled; if the pool is
    still smaller, all classes are. The adjustment is made anew in every replicate.

    Parameters
    ----------
    frame
        One survey round of the query wave_frames: a row a household asked, with
        household_id, stratum, inclusion_probability [probability], has_answered.
    luck
        Random numbers of every household.
    speaks_for
        "process": the answers speak for other weeks and later households too, so a finite
        population correction would promise too much. "households asked": they speak for
        the state of those households on that day, and a full census has no error.

    Returns
    -------
    WaveWeights

    Raises
    ------
    EstimateError
        Fewer than two households answered.

    References
    ----------
    Saerndal, C.-E. and Lundstroem, S. (2005), Estimation in Surveys with Nonresponse,
    Wiley (response homogeneity groups). Replicates: see `gamma_multipliers`.
    """
    wave_id = str(frame["wave_id"][0])
    classes = _response_classes(frame)
    asked = classes.with_columns(base_weight=1.0 / pl.col("inclusion_probability"))
    answered = asked.filter("has_answered").sort("household_id")
    if answered.height < LEAST_ANSWERS_IN_CLASS:
        message = (
            f"survey round {wave_id}: {answered.height} of {asked.height} households "
            f"answered; at least {LEAST_ANSWERS_IN_CLASS} answers are needed for an estimate. "
            "Load the answers that are still missing."
        )
        raise EstimateError(message)
    totals = (
        asked.group_by("response_class").agg(pl.col("base_weight").sum()).sort("response_class")
    )
    number = {name: i for i, name in enumerate(totals["response_class"])}
    code = answered["response_class"].replace_strict(number, return_dtype=pl.Int64).to_numpy()
    size = totals["base_weight"].to_numpy()
    answers = np.bincount(code, minlength=size.size)
    answered_share = np.minimum(answers / size, 1.0)
    sampling_share = answered_share if speaks_for == "households asked" else 0.0 * size
    uniforms = luck.of(answered["household_id"])
    multipliers = gamma_multipliers(uniforms, code, sampling_share)
    drawn = multipliers * answered["base_weight"].to_numpy()
    member = np.eye(size.size)[code]
    adjustment = size / (drawn @ member)
    return WaveWeights(
        wave_id, tuple(answered["household_id"]), drawn * adjustment[:, code], asked.height
    )


def _response_classes(frame: pl.DataFrame) -> pl.DataFrame:
    """Strata as response classes; small ones pooled, and all if the pool is small."""
    answers_in = pl.col("has_answered").sum()
    small = answers_in.over("stratum") < LEAST_ANSWERS_IN_CLASS
    pooled = frame.with_columns(
        response_class=pl.when(small).then(pl.lit(POOLED)).otherwise("stratum")
    )
    pool_is_small = answers_in.over("response_class").min() < LEAST_ANSWERS_IN_CLASS
    return pooled.with_columns(
        response_class=pl.when(pool_is_small).then(pl.lit(POOLED)).otherwise("response_class")
    )
