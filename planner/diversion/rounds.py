"""Survey rounds with their weights: answers in order, and the columns that weigh them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from planner.errors import NotYetError
from planner.messages import say
from planner.survey.asked_rounds import AskedRound, PermanentNumbers, has_enough_answers
from planner.survey.row_weights import RowWeights
from planner.survey.streams import random_stream
from planner.survey.weights import WaveWeights
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from planner.program.emissions import Method
    from planner.survey.row_weights import Weights

    Weighted = tuple[pl.DataFrame, Weights]


def prepare_rounds(
    frames: pl.DataFrame,
    households: pl.DataFrame,
    draws_count: int,
    method: Method,
    besides: Collection[str] = (),
) -> tuple[AskedRound, ...]:
    """Make every round ready that has the answers an estimate needs; others wait.

    Parameters
    ----------
    frames
        Query wave_frames.
    households
        Query households_by_wave.
    draws_count, method
        Replicates; and the program's seed, from which the units' random numbers follow, and the
        memory that these may take.
    besides
        Rounds that are not asked for.
    """
    units = frames.filter(~pl.col("is_given_back"))["unit_id"]
    stream = random_stream(method.seed, "households")
    numbers = PermanentNumbers.draw(units, draws_count, stream, method.block_bytes)
    return tuple(
        AskedRound.of(frame, numbers, households.filter(pl.col("wave_id") == wave_id))
        for (wave_id,), frame in frames.group_by("wave_id", maintain_order=True)
        if wave_id not in besides and has_enough_answers(frame)
    )


def by_round(
    answers: pl.DataFrame, waves: Sequence[WaveWeights]
) -> list[tuple[pl.DataFrame, WaveWeights]]:
    """Part answers by round, in the order of the rounds; those without any are left out."""
    own = [(answers.filter(pl.col("wave_id") == wave.wave_id), wave) for wave in waves]
    return [(frame, wave) for frame, wave in own if not frame.is_empty()]


def with_weights(
    answers: pl.DataFrame, waves: Sequence[WaveWeights], kind: Literal["baseline", "followup"]
) -> Weighted:
    """Put answers in the order of the rounds, with their weights side by side.

    Raises
    ------
    NotYetError
        No round of this kind has enough answers.
    """
    chosen = by_round(answers, waves)
    if not chosen:
        raise NotYetError(say(f"estimate.no_round.{kind}"))
    return pl.concat([frame for frame, _ in chosen]), _side_by_side(chosen)


def _side_by_side(rounds: Sequence[tuple[pl.DataFrame, WaveWeights]]) -> RowWeights:
    """Put the weights of rounds' rows one after the other."""
    parts = [wave.of(frame["household_id"]) for frame, wave in rounds]
    return RowWeights.joined(parts)


def pairs_with_weights(
    pairs: pl.DataFrame, waves: Sequence[WaveWeights], draws_count: int
) -> Weighted:
    """Put diary pairs in the order of the rounds, with the weights of their answers.

    No pair at all is allowed: published factors stand in for them.
    """
    known = {wave.wave_id for wave in waves}
    own = pairs.filter(pl.col("wave_id").is_in(list(known)))
    if own.is_empty():
        return own, np.ones((1 + draws_count, 0))
    return with_weights(own, waves, "followup")


def households_with_weights(
    use_intervals: pl.DataFrame, waves: Sequence[WaveWeights], frames: pl.DataFrame
) -> Weighted:
    """Put households in the order of their newest rounds, with the weights of those.

    Those of whom nothing is known there have no weight and are left out. Of bins that had
    come back, those drawn in a round stand for all that had come back by then: of bins that
    stayed nothing was heard after the round either.

    Parameters
    ----------
    use_intervals
        Query use_intervals.
    frames
        Query wave_frames.
    """
    back = (
        frames.filter("is_given_back")
        .group_by("wave_id")
        .agg(stands_for=pl.len() / pl.col("is_drawn").sum())
    )
    known = [
        use_intervals.filter(
            pl.col("wave_id") == wave.wave_id,
            pl.col("household_id").is_in(wave.household_ids.implode()),
        )
        for wave in waves
    ]
    households = pl.concat(known)
    times = households.join(back, on="wave_id", how="left", maintain_order="left").select(
        pl.when("is_given_back").then("stands_for").otherwise(1.0)
    )
    weights = _side_by_side(list(zip(known, waves, strict=True)))
    return households, weights * times.to_series().to_numpy()


def linked(answers: pl.DataFrame, weights: Weights, priors: pl.DataFrame) -> Weighted:
    """Keep follow-up answers of households that also answered a baseline round.

    Parameters
    ----------
    answers, weights
        Follow-up answers with weights of shape (1 + draws_count, answers).
    priors
        Query prior_shares; a household's newest baseline counts.
    """
    newest = priors.sort("opens_date", "wave_id", "household_id").unique(
        "household_id", keep="last", maintain_order=True
    )
    placed = answers.with_row_index("place").join(
        newest.select("household_id", *PRIOR_SHARES), on="household_id", maintain_order="left"
    )
    return placed, weights[:, placed["place"].to_numpy()]
