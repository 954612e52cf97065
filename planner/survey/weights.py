"""Weights of a survey round: from those who answered to all who could have been asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.calibration import kish_design_effect
from planner.survey.known_counts import KnownCounts, agree_with_register, known_counts
from planner.survey.replicates import gamma_multipliers
from planner.survey.response import ResponseModel, inverse_chances, model_response

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_ANSWERS = 10
"""Fewest answers of a round from which anything is estimated."""

LEAST_ASKED_IN_STRATUM = 10
"""A stratum of which fewer were asked is pooled with the other small ones: the spread of so few
says little of chance."""

POOLED = "small strata together"


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
    """Weights of the households whose state is known in one survey round.

    Parameters
    ----------
    wave_id
        Survey round.
    household_ids
        Those who answered or whose state was settled before, in the order of the columns of
        `weights`.
    weights
        Shape (1 + draws_count, households): households that each stands for.
    asked_count, answered_count
        Households asked, and those of them who answered.
    response
        The model of who answers.
    words
        What the weights were made to agree with.
    cut_count
        Weights that were cut because they were very large.
    settled_count
        Households known without an answer: bins back, or told before to be out of use.
    again_count, answered_again_count
        Of those silent, the ones drawn to be asked again and those of them who answered; 0
        where nobody was, or too few answered to speak for the silent.
    """

    wave_id: str
    household_ids: pl.Series
    weights: NDArray[np.float64]
    asked_count: int
    answered_count: int
    response: ResponseModel
    words: str = ""
    cut_count: int = 0
    settled_count: int = 0
    again_count: int = 0
    answered_again_count: int = 0

    @property
    def design_effect(self) -> float:
        """Loss of precision by unequal weights (Kish)."""
        return kish_design_effect(self.weights[0])

    @property
    def largest_over_mean(self) -> float:
        """Largest weight over the mean weight."""
        return float(self.weights[0].max() / self.weights[0].mean())

    def of(self, household_ids: pl.Series) -> NDArray[np.float64]:
        """Weights of some of the households, shape (1 + draws_count, n)."""
        return self.weights[:, _places(self.household_ids, household_ids)]


def _places(known: pl.Series, wanted: pl.Series) -> NDArray[np.int64]:
    """Find where each id stands among those known, each of which stands once."""
    index = pl.DataFrame({"id": known}).with_row_index("place")
    places = pl.DataFrame({"id": wanted}).join(index, on="id", how="left", maintain_order="left")
    return places["place"].to_numpy()


@dataclass(frozen=True)
class AskedRound:
    """A survey round made ready to be weighed: what does not hang on the odds of silence.

    Parameters
    ----------
    asked, given_back
        Rows of the query wave_frames: households of whom an answer may tell, and those whose
        bin had come back.
    multipliers
        Shape (1 + draws_count, asked): of the replicates.
    drawn
        Shape (1 + draws_count, asked): weights before non-response, those asked last standing
        for all the silent.
    phases
        Who was asked last.
    response
        The model of who answers.
    margins
        What the weights are to agree with.
    """

    asked: pl.DataFrame
    given_back: pl.DataFrame
    multipliers: NDArray[np.float64]
    drawn: NDArray[np.float64]
    phases: _Phases
    response: ResponseModel
    margins: KnownCounts

    @classmethod
    def of(
        cls, frame: pl.DataFrame, numbers: PermanentNumbers, population: pl.DataFrame
    ) -> AskedRound:
        """Draw the replicates of a round and model who answers in each.

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
            message = (
                f"survey round {frame['wave_id'][0]}: {frame['has_answered'].sum()} of "
                f"{frame.height} households answered; an estimate needs {LEAST_ANSWERS} answers. "
                "Load those that are still missing, or ask more households."
            )
            raise EstimateError(message)
        asked = frame.filter(~pl.col("is_given_back")).sort("household_id")
        multipliers = _multipliers(asked, numbers)
        phases = _Phases.of(asked)
        drawn = multipliers / asked["inclusion_probability"].to_numpy()
        drawn[:, phases.asked_last] *= phases.stands_for(drawn)
        return cls(
            asked,
            frame.filter("is_given_back").sort("household_id"),
            multipliers,
            drawn,
            phases,
            model_response(asked.filter(phases.asked_last), drawn[:, phases.asked_last]),
            known_counts(asked.filter(_is_known()), population.filter(~pl.col("is_given_back"))),
        )

    def weigh(self, users_odds: float = 1.0) -> WaveWeights:
        """Weigh what is known in the round, with replicates.

        Base weight one over the inclusion probability, times one over the modelled chance of an
        answer (`planner.survey.response.model_response`) where an answer was awaited. A household
        that told before that it had stopped needs no answer and keeps its base weight: what is
        known stays known when it falls silent. A bin that came back stands for itself alone. Then
        the weights are made to agree with the register, see `planner.survey.known_counts`. All of
        it again in every replicate, whose multipliers are drawn for those silent too.

        Where some of the silent were drawn to be asked again and ten of them answered, those
        carry the weight of all the silent, and whoever answered at first stands for itself:
        nothing is assumed of the silent but that those who answer at last are like those who
        never do.

        Parameters
        ----------
        users_odds
            Odds of answering of those who use their bin over those of others like them. No
            answer tells; 1 unless the figures' sensitivity is tried.

        Raises
        ------
        EstimateError
            The register's counts cannot be met.

        Notes
        -----
        No finite population correction is made: the answers speak for other weeks and later
        households too, so even a census errs.

        References
        ----------
        Saerndal, C.-E. and Lundstroem, S. (2005), Estimation in Surveys with Nonresponse,
        Wiley, chapters 6 and 10. Replicates: see `gamma_multipliers`. Hansen, M.H. and Hurwitz,
        W.N. (1946), The problem of non-response in sample surveys, Journal of the American
        Statistical Association 41, 517-529 (asking some of the silent again).
        """
        last, asked = self.phases.asked_last, self.asked
        modelled = asked.filter(last)
        factors = np.ones_like(self.drawn)
        factors[:, last] = inverse_chances(
            self.response.chance,
            self.drawn[:, last],
            modelled["has_answered"].to_numpy(),
            modelled["is_in_use"].fill_null(value=False).to_numpy().astype(float),
            users_odds,
        )
        is_known = asked.select(_is_known()).to_series().to_numpy()
        known = asked.filter(is_known)
        met, cut_count, words = agree_with_register(
            self.margins, (self.drawn * factors)[:, is_known], self.multipliers[:, is_known]
        )
        ones = np.ones((met.shape[0], self.given_back.height))
        again_count = self.phases.again_count
        return WaveWeights(
            str(asked["wave_id"][0]),
            pl.concat([known["household_id"], self.given_back["household_id"]]),
            np.concatenate([met, ones], axis=1),
            asked.height,
            int(asked["has_answered"].sum()),
            self.response,
            words,
            cut_count,
            known.height - int(known["has_answered"].sum()) + self.given_back.height,
            again_count,
            int(modelled["has_answered"].sum()) if again_count else 0,
        )


def _is_known() -> pl.Expr:
    return pl.col("has_answered") | pl.col("is_settled")


@dataclass(frozen=True)
class _Phases:
    """Who of a round was asked last, and whom they stand for.

    Parameters
    ----------
    silent
        Those of whom no answer came at first; all awaited where nobody was asked again.
    asked_last
        Those of them drawn to be asked again; all awaited where nobody was.
    again_probability
        Shape (asked last,): with what probability; 1 where nobody was asked again.
    """

    silent: NDArray[np.bool_]
    asked_last: NDArray[np.bool_]
    again_probability: NDArray[np.float64]

    @classmethod
    def of(cls, asked: pl.DataFrame) -> _Phases:
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

    def stands_for(self, weights: NDArray[np.float64]) -> NDArray[np.float64]:
        """Say how many times its own weight each of those asked last stands for, by row.

        In every row those asked last stand for all the silent of that row: over replicates
        this brings the variance of both draws.
        """
        inverse = 1.0 / self.again_probability
        stood_for = weights[:, self.asked_last] @ inverse
        return np.outer(weights[:, self.silent].sum(axis=1) / stood_for, inverse)


def has_enough_answers(frame: pl.DataFrame) -> bool:
    """Whether a round has the ten answers that an estimate needs, known states apart."""
    return int(frame["has_answered"].sum()) >= LEAST_ANSWERS


def _multipliers(asked: pl.DataFrame, numbers: PermanentNumbers) -> NDArray[np.float64]:
    """Replicate multipliers of all asked, by stratum, the small ones together."""
    strata = asked.group_by("stratum").len("asked").sort("asked", "stratum")
    before = pl.col("asked").cum_sum().shift(1, fill_value=0)
    is_few = pl.col("asked") < LEAST_ASKED_IN_STRATUM
    pooled = strata.filter(is_few.any() & (is_few | (before < LEAST_ASKED_IN_STRATUM)))
    code = (
        asked.select(
            pl.when(pl.col("stratum").is_in(pooled["stratum"].to_list()))
            .then(pl.lit(POOLED))
            .otherwise("stratum")
        )
        .to_series()
        .rank("dense")
        .cast(pl.Int64)
        .to_numpy()
        - 1
    )
    unit = asked["unit_id"].rank("dense").to_numpy().astype(np.int64)
    shares = np.zeros(int(code.max()) + 1)
    return gamma_multipliers(numbers.of(asked["unit_id"]), code, shares, unit)
