"""Weights of a survey round: from those who answered to all who could have been asked."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.messages import say
from planner.survey.calibration import Crossed, kish_design_effect, rake
from planner.survey.known_counts import BESIDES, KnownCounts, known_counts, meet_counts
from planner.survey.replicates import GammaStrata, exponentials
from planner.survey.response import inverse_chances, model_response, silent_odds
from planner.survey.row_weights import RowWeights

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from planner.survey.response import CategoryDesign, ResponseModel

LEAST_ANSWERS = 10
"""Fewest answers of a round from which anything is estimated."""

LEAST_ASKED_IN_STRATUM = 10
"""A stratum of which fewer were asked is pooled with the other small ones: the spread of so few
says little of chance."""

BLOCK_BYTES = 32 * 10**6
"""Unless a program says otherwise."""

POOLED = "small strata together"


@dataclass(frozen=True)
class PermanentNumbers:
    """Random numbers of households or clusters, which follow them through all rounds.

    They are drawn again, the same, whenever they are wanted: those of a million households
    and a thousand replicates would take 8 GB.

    Parameters
    ----------
    unit_ids
        Units, in order.
    draws_count
        Replicates.
    rng
        As it was before the first number; it is copied, never used.
    block_bytes
        Of the numbers of one block of replicates.
    """

    unit_ids: pl.Series
    draws_count: int
    rng: np.random.Generator
    block_bytes: int = BLOCK_BYTES

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
        Shape (1 + draws_count, households): households that each stands for, itself alone
        where the bin had come back.
    asked_count, answered_count
        Households asked, and those of them who answered.
    terms
        What answering depends on: one row a category, as of `ResponseModel`.
    odds_ratio
        Shape (1 + draws_count, categories): odds of an answer of each category over those of
        the average category of its covariate, all else equal.
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
    weights: RowWeights
    asked_count: int
    answered_count: int
    terms: pl.DataFrame
    odds_ratio: NDArray[np.float64]
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

    def of(self, household_ids: pl.Series) -> RowWeights:
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
    numbers, places
        Random numbers of every unit, and where among them those of the asked stand.
    strata
        Strata by which replicates are drawn.
    phases
        Who was asked last.
    response
        The model of who answers.
    registered, margins
        Where among the asked those stand whom the register counts, or of whom something is known;
        and what their weights are to agree with.
    """

    asked: pl.DataFrame
    given_back: pl.DataFrame
    numbers: PermanentNumbers
    places: NDArray[np.int64]
    strata: GammaStrata
    phases: _Phases
    response: ResponseModel
    registered: NDArray[np.int64]
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
        phases = _Phases.of(asked)
        base = phases.stand_for_the_silent(1.0 / asked["inclusion_probability"].to_numpy()[None, :])
        population = population.filter(~pl.col("is_given_back"))
        registered = _registered(asked, population)
        return cls(
            asked,
            frame.filter("is_given_back").sort("household_id"),
            numbers,
            _places(numbers.unit_ids, asked["unit_id"]),
            _strata(asked),
            phases,
            model_response(asked.filter(phases.asked_last), base[0, phases.asked_last]),
            registered,
            known_counts(asked[registered], population),
        )

    def with_draws(self, draws_count: int) -> AskedRound:
        """Take another number of replicates, the first the same."""
        return replace(self, numbers=replace(self.numbers, draws_count=draws_count))

    def weigh(self, users_odds: float = 1.0) -> WaveWeights:
        """Weigh what is known in the round, with replicates.

        Base weight one over the inclusion probability, times one over the modelled chance of an
        answer (`planner.survey.response.model_response`) where an answer was awaited. A household
        that told before that it had stopped needs no answer: what is known stays known when it
        falls silent. A bin that came back stands for itself alone. Weights are made to agree with
        the register, see `planner.survey.known_counts`, twice: those of all asked first, which
        those settled keep, then those of the answers with what the settled leave. At once, few
        answers of a cohort would let its settled households stand for the silent too. All of it
        again in every replicate, whose multipliers are drawn for those silent too.

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
        No finite population correction is made here: the answers speak for other weeks and later
        households too. That for the bins of the town is made on their curves, see
        `planner.survey.use_intervals.KnownHazards`.

        References
        ----------
        Saerndal, C.-E. and Lundstroem, S. (2005), Estimation in Surveys with Nonresponse,
        Wiley, chapters 6 and 10. Replicates: see `GammaStrata`. Hansen, M.H. and Hurwitz,
        W.N. (1946), The problem of non-response in sample surveys, Journal of the American
        Statistical Association 41, 517-529 (asking some of the silent again).
        """
        return weigh_rounds((self,), users_odds)[0]

    def begun(self, users_odds: float) -> _Weighing:
        """Begin to weigh, with the first row."""
        last = np.flatnonzero(self.phases.asked_last)
        modelled = self.asked[last]
        answered = np.flatnonzero(modelled["has_answered"])
        users = modelled["is_in_use"].fill_null(value=False).to_numpy()[answered]
        silent = np.zeros(self.asked.height)
        silent[last[~modelled["has_answered"].to_numpy()]] = 1.0
        known = np.flatnonzero(self.asked.select(_is_known()).to_series())
        settled = self.asked["is_settled"].to_numpy()
        rows = 1 + self.numbers.draws_count
        return _Weighing(
            self,
            last,
            known,
            settled,
            np.flatnonzero(~settled[known]),
            np.searchsorted(known, last[answered]),
            self.response.design.among(answered),
            # who answers more readily is heard too often, and counts for less in turn
            users_odds ** -users.astype(float),
            silent,
            np.empty(known.size),
            np.empty((known.size, rows - 1), dtype=np.float32),
            np.empty((rows, self.response.design.width)),
            len(self.margins.besides),
        )


@dataclass
class _Weighing:
    """A round that is being weighed.

    Parameters
    ----------
    asked_round
        The round.
    last, known
        Shape (asked last,), (known,): who was asked last, and of whom the state is known.
    settled, awaited
        Shape (asked,): who was known before to have stopped. Shape (awaited,): where among those
        known the others stand.
    answered
        Shape (answered,): where among those known the ones stand who answered at last.
    design, times
        Of these: what is known of them, and one over their odds of answering against others
        like them.
    silent
        Shape (asked,): 1 where somebody asked last did not answer.
    central, drawn, log_odds
        Weights of those known, the drawn ones of shape (known, draws_count), and log odds, as
        far as the rows are done.
    besides_count
        How many margins are met besides areas and dwellings.
    cut_count
        Weights of the first row that were cut.
    is_failing
        Some row could not meet so many margins: all of them begin again with one less.
    """

    asked_round: AskedRound
    last: NDArray[np.int64]
    known: NDArray[np.int64]
    settled: NDArray[np.bool_]
    awaited: NDArray[np.int64]
    answered: NDArray[np.int64]
    design: CategoryDesign
    times: NDArray[np.float64]
    silent: NDArray[np.float64]
    central: NDArray[np.float64]
    drawn: NDArray[np.float32]
    log_odds: NDArray[np.float64]
    besides_count: int
    cut_count: int = 0
    is_failing: bool = True

    def begin(self) -> None:
        """Weigh the first row, which nothing is drawn for, by as many margins as it can meet."""
        while self.is_failing:
            self.is_failing = False
            margins, self.words = self.asked_round.margins.with_first(self.besides_count)
            awaited = np.searchsorted(self.asked_round.registered, self.known[self.awaited])
            self.of_asked = Crossed.of(margins)
            self.of_awaited = Crossed.of(
                [replace(margin, cell=margin.cell[awaited]) for margin in margins]
            )
            self.fill(slice(0, 1), np.ones((self.silent.size, 1)))

    def draw(self, replicates: slice, numbers: NDArray[np.float32]) -> None:
        """Weigh some replicates; `numbers` are those of all units, shape (units, rows)."""
        if not self.is_failing:
            own = numbers.take(self.asked_round.places, axis=0)
            rows = slice(1 + replicates.start, 1 + replicates.stop)
            self.fill(rows, self.asked_round.strata.multipliers(own))

    def fill(self, rows: slice, multipliers: NDArray[np.float64]) -> None:
        """Weigh rows with multipliers of shape (asked, rows): a household's lie together."""
        one = self.asked_round
        # silent households are drawn too: how many answer must vary from replicate to replicate
        drawn = multipliers / one.asked["inclusion_probability"].to_numpy()[:, None]
        try:
            drawn, crossed = self.with_settled(drawn)
            one.phases.stand_for_the_silent(drawn.T)
            log_odds = one.response.log_odds(drawn.take(self.last, axis=0).T)
            odds = silent_odds(self.design, log_odds) * self.times
            known = drawn.take(self.known, axis=0)
            known[self.answered] *= inverse_chances(
                odds, known.take(self.answered, axis=0).T, drawn.T @ self.silent
            ).T
            own = multipliers.take(self.known[self.awaited], axis=0)
            met, cut_count = meet_counts(known.take(self.awaited, axis=0).T, own.T, crossed)
        except EstimateError:
            if self.besides_count == 0:
                raise
            # all rows begin again: replicates that meet other margins than the first row would
            # measure the variance of another estimate
            self.besides_count -= 1
            self.is_failing = True
            return
        self.log_odds[rows], known[self.awaited] = log_odds, met.T
        if rows.start:
            self.drawn[:, rows.start - 1 : rows.stop - 1] = known
        else:
            self.central[:], self.cut_count = known[:, 0], cut_count

    def with_settled(self, drawn: NDArray[np.float64]) -> tuple[NDArray[np.float64], Crossed]:
        """Meet the counts by all asked, and give what those settled leave of them to the others."""
        if not self.settled.any():
            return drawn, self.of_awaited
        registered = self.asked_round.registered
        met = rake(drawn.take(registered, axis=0).T, self.of_asked)
        settled = self.of_asked.answers.sums(met * self.settled[registered])
        drawn[registered] = met.T
        return drawn, self.of_awaited.without(self.of_asked.sums(settled))

    def done(self) -> WaveWeights:
        """Give out the weights."""
        one = self.asked_round
        asked, known = one.asked, one.asked[self.known]
        again_count = one.phases.again_count
        return WaveWeights(
            str(asked["wave_id"][0]),
            pl.concat([known["household_id"], one.given_back["household_id"]]),
            RowWeights.of(self.central, self.drawn, one.given_back.height),
            asked.height,
            int(asked["has_answered"].sum()),
            one.response.terms,
            one.response.odds_ratio(self.log_odds),
            self.words,
            self.cut_count,
            known.height - int(known["has_answered"].sum()) + one.given_back.height,
            again_count,
            self.answered.size if again_count else 0,
        )


def weigh_rounds(rounds: Sequence[AskedRound], users_odds: float = 1.0) -> tuple[WaveWeights, ...]:
    """Weigh rounds as `AskedRound.weigh` does, a block of replicates after the other.

    Where areas took their bins in different quarters and some answered little, not all of a
    round's counts can be met at once: then the quarters are left out, and then the sizes.

    Parameters
    ----------
    rounds
        All made ready with the same numbers.
    users_odds
        As of `AskedRound.weigh`.

    Raises
    ------
    EstimateError
        Not even the counts of areas and dwellings can be met.
    """
    weighings = [one.begun(users_odds) for one in rounds]
    while failing := [one for one in weighings if one.is_failing]:
        for one in failing:
            one.begin()
        # drawn once for all rounds: a household keeps its numbers from round to round
        for replicates, numbers in failing[0].asked_round.numbers.blocks():
            for one in failing:
                one.draw(replicates, numbers)
    return tuple(one.done() for one in weighings)


def _registered(asked: pl.DataFrame, population: pl.DataFrame) -> NDArray[np.int64]:
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
    is_known = asked.select(_is_known()).to_series().to_numpy()
    return np.union1d(one_of.to_numpy().astype(np.int64), np.flatnonzero(is_known))


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

    def stand_for_the_silent(self, weights: NDArray[np.float64]) -> NDArray[np.float64]:
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


def has_enough_answers(frame: pl.DataFrame) -> bool:
    """Whether a round has the ten answers that an estimate needs, known states apart."""
    return int(frame["has_answered"].sum()) >= LEAST_ANSWERS


def _strata(asked: pl.DataFrame) -> GammaStrata:
    """Strata of all asked, the small ones together."""
    strata = asked.group_by("stratum").len("asked").sort("asked", "stratum")
    before = pl.col("asked").cum_sum().shift(1, fill_value=0)
    is_few = pl.col("asked") < LEAST_ASKED_IN_STRATUM
    pooled = strata.filter(is_few.any() & (is_few | (before < LEAST_ASKED_IN_STRATUM)))
    name = (
        pl.when(pl.col("stratum").is_in(pooled["stratum"].to_list()))
        .then(pl.lit(POOLED))
        .otherwise("stratum")
    )
    stratum, unit = (
        asked.select(column.rank("dense").cast(pl.Int64) - 1).to_series().to_numpy()
        for column in (name, pl.col("unit_id"))
    )
    return GammaStrata.of(stratum, np.zeros(int(stratum.max()) + 1), unit)
