"""Weights of a survey round: from those who answered to all who could have been asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.calibration import kish_design_effect, scaled_to
from planner.survey.known_counts import known_counts, meet_counts
from planner.survey.replicates import gamma_multipliers

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_ANSWERS_IN_CLASS = 10
"""A response class with fewer answers is pooled with the other small ones."""

POOLED = "small strata together"

GIVEN_BACK = "given back"
"""Stratum of the query wave_frames for bins known to have come back before the round."""


@dataclass(frozen=True)
class PermanentNumbers:
    """Random numbers of households or clusters, which follow them through all rounds.

    Parameters
    ----------
    unit_ids
        Units in the order of the columns.
    uniforms
        Shape (draws_count, units), between 0 and 1.
    """

    unit_ids: pl.Series
    uniforms: NDArray[np.float64]

    @classmethod
    def draw(
        cls, unit_ids: pl.Series, draws_count: int, rng: np.random.Generator
    ) -> PermanentNumbers:
        """Draw the numbers of the units named, in the order of their ids."""
        ids = unit_ids.unique().sort()
        return cls(ids, rng.random((draws_count, ids.len())))

    def of(self, unit_ids: pl.Series) -> NDArray[np.float64]:
        """Numbers of some units, shape (draws_count, n)."""
        return self.uniforms[:, _places(self.unit_ids, unit_ids)]


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
    words
        What the weights were made to agree with; empty for nothing.
    cut_count
        Weights that were cut because they were very large.
    """

    wave_id: str
    household_ids: pl.Series
    weights: NDArray[np.float64]
    asked_count: int
    words: str = ""
    cut_count: int = 0

    @property
    def design_effect(self) -> float:
        """Loss of precision by unequal weights (Kish)."""
        return kish_design_effect(self.weights[0])

    @property
    def answered_count(self) -> int:
        """Households that answered."""
        return len(self.household_ids)

    def of(self, household_ids: pl.Series) -> NDArray[np.float64]:
        """Weights of some of the households, shape (1 + draws_count, n)."""
        return self.weights[:, _places(self.household_ids, household_ids)]


def _places(known: pl.Series, wanted: pl.Series) -> NDArray[np.int64]:
    """Find where each id stands among those known, each of which stands once."""
    index = pl.DataFrame({"id": known}).with_row_index("place")
    places = pl.DataFrame({"id": wanted}).join(index, on="id", how="left", maintain_order="left")
    return places["place"].to_numpy()


def wave_weights(
    frame: pl.DataFrame,
    numbers: PermanentNumbers,
    population: pl.DataFrame | None = None,
    *,
    speaks_for: Literal["households asked", "process"] = "process",
) -> WaveWeights:
    """Weigh the answers of one survey round, with replicates.

    Base weight one over the inclusion probability, times the non-response adjustment of
    the household's response class (its stratum): the households that the class stands for
    over those that its answers stand for. Those who answered count as a simple random
    sample of their class. Classes with fewer than ten answers are pooled, with the next
    smallest where they are still fewer. Then the weights are made to agree with the
    register, see `planner.survey.known_counts`. All of it anew in every replicate.

    Parameters
    ----------
    frame
        One survey round of the query wave_frames: a row a household asked, with
        household_id, unit_id, stratum, inclusion_probability [probability], has_answered.
    numbers
        Random numbers of every unit.
    population
        Rows of query households_by_wave of this round; None leaves the response adjustment
        the last step. A baseline's answers stand for as many households as they did.
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
        Fewer than ten households answered, or the register's counts cannot be met.

    References
    ----------
    Saerndal, C.-E. and Lundstroem, S. (2005), Estimation in Surveys with Nonresponse,
    Wiley (response homogeneity groups). Replicates: see `gamma_multipliers`.
    """
    wave_id = str(frame["wave_id"][0])
    if not has_enough_answers(frame):
        message = (
            f"survey round {wave_id}: {frame['has_answered'].sum()} of {frame.height} households "
            f"answered; an estimate needs {LEAST_ANSWERS_IN_CLASS} answers. Load those that are "
            "still missing, or ask more households."
        )
        raise EstimateError(message)
    asked = _response_classes(frame).with_columns(base_weight=1.0 / pl.col("inclusion_probability"))
    answered = asked.filter("has_answered").sort("household_id")
    totals = (
        asked.group_by("response_class").agg(pl.col("base_weight").sum()).sort("response_class")
    )
    number = {name: i for i, name in enumerate(totals["response_class"])}
    code = answered["response_class"].replace_strict(number, return_dtype=pl.Int64).to_numpy()
    size = totals["base_weight"].to_numpy()
    units = answered["unit_id"]
    multipliers = gamma_multipliers(
        numbers.of(units),
        code,
        _sampling_share(totals["response_class"], code, size, speaks_for),
        units.rank("dense").to_numpy().astype(np.int64),
    )
    drawn = multipliers * answered["base_weight"].to_numpy()
    member = np.eye(size.size)[code]
    adjusted = drawn * (size / (drawn @ member))[:, code]
    ids = answered["household_id"]
    if population is None:
        return WaveWeights(wave_id, ids, adjusted, asked.height)
    told = answered.with_columns(is_given_back=pl.col("stratum") == GIVEN_BACK)
    known = known_counts(told, population)
    margins = [scaled_to(margin, adjusted[0].sum()) for margin in known.margins]
    met, cut_count = meet_counts(adjusted, multipliers, margins)
    return WaveWeights(wave_id, ids, met, asked.height, known.words, cut_count)


def has_enough_answers(frame: pl.DataFrame) -> bool:
    """Whether a round has the ten answers that an estimate needs, known givebacks apart."""
    told = pl.col("has_answered") & (pl.col("stratum") != GIVEN_BACK)
    return int(frame.select(told.sum()).item()) >= LEAST_ANSWERS_IN_CLASS


def _sampling_share(
    classes: pl.Series, code: NDArray[np.int64], size: NDArray[np.float64], speaks_for: str
) -> NDArray[np.float64]:
    """Share of each class that is known; all of it where bins are known to have come back."""
    known = (classes == GIVEN_BACK).to_numpy() * 1.0
    if speaks_for == "process":
        return known
    answers = np.bincount(code, minlength=size.size)
    return np.maximum(known, np.minimum(answers / size, 1.0))


def _response_classes(frame: pl.DataFrame) -> pl.DataFrame:
    """Strata as response classes, the small ones pooled with each other and the next.

    Bins known to have come back are a class of their own: nothing is unknown of them.
    """
    strata = (
        frame.filter(pl.col("stratum") != GIVEN_BACK)
        .group_by("stratum")
        .agg(answers=pl.col("has_answered").sum())
        .sort("answers", "stratum")
    )
    together = pl.col("answers").cum_sum().shift(1, fill_value=0)
    is_small = pl.col("answers") < LEAST_ANSWERS_IN_CLASS
    pooled = strata.filter(is_small.any() & (is_small | (together < LEAST_ANSWERS_IN_CLASS)))
    return frame.with_columns(
        response_class=pl.when(pl.col("stratum").is_in(pooled["stratum"].to_list()))
        .then(pl.lit(POOLED))
        .otherwise("stratum")
    )
