"""Survey rounds made ready to be weighed: who was asked, who answered, how replicates are drawn."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Flags, Integers, Numbers, numbers_of
from planner.errors import EstimateError
from planner.messages import say
from planner.survey.known_counts import BESIDES, KnownCounts, known_counts, smallest
from planner.survey.replicates import GammaStrata, exponentials
from planner.survey.response import model_response

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from planner.survey.response import ResponseModel

LEAST_ANSWERS = 10
"""Fewest answers of a round from which anything is estimated."""

LEAST_ASKED_IN_STRATUM = 10
"""A stratum of which fewer were asked is pooled with the other small ones: the spread of so few
says little of chance."""

BLOCK_BYTES = 32 * 10**6
"""Unless a program says otherwise."""

POOLED = "small strata together"

OF_WEIGHING = (
    "wave_id",
    "household_id",
    "inclusion_probability",
    "is_settled",
    "has_answered",
    "is_in_use",
)
"""Columns that weighing reads; the others are let go, with all of those whose bins were back: of a
million households they were 80 MB for each time the year is measured."""


@dataclass(frozen=True)
class PermanentNumbers:
    """Random numbers of households or clusters, which follow them through all rounds.

    They are drawn again, the same, whenever they are wanted: those of a million households
    and a thousand replicates would take 8 GB.
    """

    unit_ids: pl.Series  # units, in order
    draws_count: int  # replicates
    rng: np.random.Generator  # as it was before the first number; it is copied, never used
    block_bytes: int = BLOCK_BYTES  # of the numbers of one block of replicates

    @classmethod
    def draw(
        cls,
        unit_ids: pl.Series,
        draws_count: int,
        rng: np.random.Generator,
        block_bytes: int = BLOCK_BYTES,
    ) -> PermanentNumbers:
        """Set out the numbers of the units named, in the order of their ids."""
        return cls(unit_ids.unique().sort(), draws_count, copy.deepcopy(rng), block_bytes)

    def blocks(self) -> Iterator[tuple[slice, NDArray[np.float32]]]:
        """Draw block after block: which replicates, from 0, and exponential numbers of the units.

        These are of shape (units, rows), in single precision.
        """
        rng, units = copy.deepcopy(self.rng), self.unit_ids.len()
        step = max(1, self.block_bytes // (8 * max(units, 1)))
        for start in range(0, self.draws_count, step):
            rows = slice(start, min(start + step, self.draws_count))
            drawn = exponentials(rng.random((rows.stop - start, units)))
            yield rows, np.ascontiguousarray(drawn.T)


def places_among(known: pl.Series, wanted: pl.Series) -> Integers:
    """Find where each id stands among those known, each of which stands once."""
    index = pl.DataFrame({"id": known}).with_row_index("place")
    places = pl.DataFrame({"id": wanted}).join(index, on="id", how="left", maintain_order="left")
    return places["place"].to_numpy()


@dataclass(frozen=True)
class AskedRound:
    """A survey round made ready to be weighed: what does not hang on the odds of silence."""

    # rows of the query wave_frames, the columns of OF_WEIGHING: households of whom an answer may
    # tell
    asked: pl.DataFrame
    given_back: pl.Series  # ids of those whose bin had come back
    # random numbers of every unit, and where among them those of the asked stand
    numbers: PermanentNumbers
    places: Integers
    strata: GammaStrata  # strata by which replicates are drawn
    phases: Phases  # who was asked last
    response: ResponseModel  # the model of who answers
    # where among the asked those stand whom the register counts, or of whom something is known; and
    # what their weights are to agree with
    registered: Integers
    margins: KnownCounts

    @classmethod
    def of(
        cls, frame: pl.DataFrame, numbers: PermanentNumbers, population: pl.DataFrame
    ) -> AskedRound:
        """Make a round ready to be weighed, and model who answers.

        Parameters
        ----------
        frame
            One survey round of the query wave_frames: a row a household asked.
        numbers
            Random numbers of every unit.
        population
            Rows of query households_by_wave of this round.

        Raises
        ------
        EstimateError
            Fewer than ten households answered, or one of whom the register does not know.
        """
        if not has_enough_answers(frame):
            counts = {"answers": int(frame["has_answered"].sum()), "asked": frame.height}
            wave, least = frame["wave_id"][0], LEAST_ANSWERS
            raise EstimateError(say("estimate.few_answers", wave=wave, least=least, **counts))
        asked = frame.filter(~pl.col("is_given_back")).sort("household_id")
        phases = Phases.of(asked)
        base = phases.stand_for_the_silent(1.0 / asked["inclusion_probability"].to_numpy()[None, :])
        population = population.filter(~pl.col("is_given_back"))
        registered = _registered(asked, population)
        return cls(
            asked.select(OF_WEIGHING),
            frame.filter("is_given_back")["household_id"].sort(),
            numbers,
            places_among(numbers.unit_ids, asked["unit_id"]),
            _strata(asked),
            phases,
            model_response(asked.filter(phases.asked_last), base[0, phases.asked_last]),
            registered,
            known_counts(asked[registered], population),
        )

    @property
    def wave_id(self) -> str:
        """The survey round."""
        return str(self.asked["wave_id"][0])


def has_enough_answers(frame: pl.DataFrame) -> bool:
    """Whether a round has the ten answers that an estimate needs, known states apart."""
    return int(frame["has_answered"].sum()) >= LEAST_ANSWERS


def _registered(asked: pl.DataFrame, population: pl.DataFrame) -> Integers:
    """Find who is counted in the register, or is known; others asked had no bin by then."""
    names = ["area_id", "dwelling", *BESIDES]
    counted = population.filter(pl.col("households_count") > 0).select(
        pl.col(names).cast(pl.String)
    )
    one_of = (
        asked.select(pl.col(names).cast(pl.String))
        .with_row_index("place")
        .join(counted.unique(), on=names, how="semi", nulls_equal=True)["place"]
    )
    known = asked.select(is_known()).to_series().to_numpy()
    return np.union1d(one_of.to_numpy().astype(np.int64), np.flatnonzero(known))


def is_known() -> pl.Expr:
    """Tell of whom of those asked the state is known."""
    return pl.col("has_answered") | pl.col("is_settled")


@dataclass(frozen=True)
class Phases:
    """Who of a round was asked last, and whom they stand for."""

    # those of whom no answer came at first; all awaited where nobody was asked again
    silent: Flags
    # those of them drawn to be asked again; all awaited where nobody was
    asked_last: Flags
    # shape (asked last,): with what probability; 1 where nobody was asked again
    again_probability: Numbers

    @classmethod
    def of(cls, asked: pl.DataFrame) -> Phases:
        """Tell the phases of a round apart, where ten answered when they were asked again."""
        awaited = ~asked["is_settled"].to_numpy()
        again = asked["has_answered_again"].to_numpy()
        if (awaited & again).sum() < LEAST_ANSWERS:
            return cls(awaited, awaited, np.ones(int(awaited.sum())))
        silent = awaited & (~asked["has_answered"].to_numpy() | again)
        probability = asked["again_probability"].fill_null(0.0).to_numpy()
        asked_last = silent & (probability > 0.0)
        return cls(silent, asked_last, probability[asked_last])

    @property
    def again_count(self) -> int:
        """Households that were asked again; 0 where there was one phase alone."""
        return int(self.asked_last.sum()) if self.silent is not self.asked_last else 0

    def stand_for_the_silent(self, weights: Numbers) -> Numbers:
        """Give those asked last the weight of all the silent, in place, and return the weights.

        In every row those asked last stand for all the silent of that row: over replicates
        this brings the variance of both draws.
        """
        if self.again_count:
            inverse = 1.0 / self.again_probability
            stood_for = weights[:, self.asked_last] @ inverse
            silent = weights @ self.silent.astype(float)
            weights[:, self.asked_last] *= np.outer(silent / stood_for, inverse)
        return weights


def _strata(asked: pl.DataFrame) -> GammaStrata:
    """Strata of all asked, the small ones together."""
    pooled = smallest(asked.group_by("stratum").len("asked"), LEAST_ASKED_IN_STRATUM)
    name = pl.when(pl.col("stratum").is_in(pooled)).then(pl.lit(POOLED)).otherwise("stratum")
    stratum, unit = map(numbers_of, asked.select(name, "unit_id"))
    return GammaStrata.of(stratum, np.zeros(int(stratum.max()) + 1), unit)
