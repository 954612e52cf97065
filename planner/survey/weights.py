"""Weights of a survey round: from those who answered to all who could have been asked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Flags, Integers, Numbers
from planner.errors import EstimateError
from planner.memory import release_freed_memory
from planner.survey.asked_rounds import is_known, places_among
from planner.survey.calibration import Crossed, kish_design_effect, rake
from planner.survey.known_counts import weights_that_meet
from planner.survey.replicates import KeptWeights
from planner.survey.response import inverse_chances, silent_odds
from planner.survey.row_weights import RowWeights

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.survey.asked_rounds import AskedRound
    from planner.survey.response import CategoryDesign


BLOCKS_KEPT = 2
"""Weights that take more memory than so many blocks of replicates are kept in a file."""


@dataclass(frozen=True)
class WaveWeights:
    """Weights of the households whose state is known in one survey round."""

    wave_id: str  # survey round
    # those who answered or whose state was settled before, in the order of the columns of `weights`
    household_ids: pl.Series
    # shape (1 + draws_count, households): households that each stands for, itself alone where the
    # bin had come back
    weights: RowWeights
    # households asked, and those of them who answered
    asked_count: int
    answered_count: int
    terms: pl.DataFrame  # what answering depends on: one row a category, as of `ResponseModel`
    # shape (1 + draws_count, categories): odds of an answer of each category over those of the
    # average category of its covariate, all else equal
    odds_ratio: Numbers
    words: str = ""  # what the weights were made to agree with
    cut_count: int = 0  # weights that were cut because they were very large
    # households known without an answer: bins back, or told before to be out of use
    settled_count: int = 0
    # of those silent, the ones drawn to be asked again and those of them who answered; 0 where
    # nobody was, or too few answered to speak for the silent
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
        return self.weights[:, places_among(self.household_ids, household_ids)]


@dataclass
class _Weighing:
    """A round that is being weighed."""

    asked_round: AskedRound
    # shape (asked last,), (known,): who was asked last, and of whom the state is known
    last: Integers
    known: Integers
    # Shape (asked,): who was known before to have stopped. Shape (awaited,): where among those
    # known the others stand.
    settled: Flags
    awaited: Integers
    # shape (answered,): where among those known the ones stand who answered at last
    answered: Integers
    # of these: what is known of them, and one over their odds of answering against others like them
    design: CategoryDesign
    times: Numbers
    silent: Numbers  # shape (asked,): 1 where somebody asked last did not answer
    # weights of those known and log odds, as far as the rows are done
    central: Numbers
    log_odds: Numbers
    besides_count: int  # how many margins are met besides areas and dwellings
    cut_count: int = 0  # weights of the first row that were cut
    # some row could not meet so many margins: all of them begin again with one less
    is_failing: bool = True

    @classmethod
    def of(cls, one: AskedRound, users_odds: float) -> _Weighing:
        """Begin to weigh a round, with the first row."""
        last = np.flatnonzero(one.phases.asked_last)
        modelled = one.asked[last]
        answered = np.flatnonzero(modelled["has_answered"])
        users = modelled["is_in_use"].fill_null(value=False).to_numpy()[answered]
        silent = np.zeros(one.asked.height)
        silent[last[~modelled["has_answered"].to_numpy()]] = 1.0
        known = np.flatnonzero(one.asked.select(is_known()).to_series())
        settled = one.asked["is_settled"].to_numpy()
        rows = 1 + one.numbers.draws_count
        return cls(
            one,
            last,
            known,
            settled,
            np.flatnonzero(~settled[known]),
            np.searchsorted(known, last[answered]),
            one.response.design.among(answered),
            # who answers more readily is heard too often, and counts for less in turn
            users_odds ** -users.astype(float),
            silent,
            np.empty(known.size),
            np.empty((rows, one.response.design.width)),
            len(one.margins.besides),
        )

    def begin(self, *, is_in_file: bool) -> None:
        """Weigh the first row, which nothing is drawn for, by as many margins as it can meet."""
        self.drawn = KeptWeights(is_in_file=is_in_file)
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

    def fill(self, rows: slice, multipliers: Numbers) -> None:
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
            met, cut_count = weights_that_meet(known.take(self.awaited, axis=0).T, own.T, crossed)
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
            self.drawn.add(known)
        else:
            self.central[:], self.cut_count = known[:, 0], cut_count

    def with_settled(self, drawn: Numbers) -> tuple[Numbers, Crossed]:
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
            one.wave_id,
            pl.concat([known["household_id"], one.given_back]),
            RowWeights.of(self.central, self.drawn.done(), one.given_back.len()),
            asked.height,
            int(asked["has_answered"].sum()),
            one.response.terms,
            one.response.odds_ratio(self.log_odds),
            self.words,
            self.cut_count,
            known.height - int(known["has_answered"].sum()) + one.given_back.len(),
            again_count,
            self.answered.size if again_count else 0,
        )


def weigh_rounds(rounds: Sequence[AskedRound], users_odds: float = 1.0) -> tuple[WaveWeights, ...]:
    """Weigh what is known in each round, with replicates, a block of them after the other.

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

    Where areas took their bins in different quarters and some answered little, not all of a
    round's counts can be met at once: then the quarters are left out, and then the sizes.

    Parameters
    ----------
    users_odds
        Odds of answering of those who use their bin over those of others like them. No
        answer tells; 1 unless the figures' sensitivity is tried.

    Raises
    ------
    EstimateError
        Not even the counts of areas and dwellings can be met.

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
    weighings = [_Weighing.of(one, users_odds) for one in rounds]
    while failing := [one for one in weighings if one.is_failing]:
        numbers = failing[0].asked_round.numbers
        drawn_bytes = 4 * numbers.draws_count * sum(one.known.size for one in weighings)
        for one in failing:
            one.begin(is_in_file=drawn_bytes > BLOCKS_KEPT * numbers.block_bytes)
        # drawn once for all rounds: a household keeps its numbers from round to round
        for replicates, drawn in numbers.blocks():
            for one in failing:
                one.draw(replicates, drawn)
    found = tuple(one.done() for one in weighings)
    weighings.clear()
    release_freed_memory()
    return found
