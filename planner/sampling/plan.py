"""Whom a survey round asks: its population, sizes by stratum, the draw."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.allocation import share_out_whole
from planner.survey.drawing import draw_households
from planner.survey.sample_size import margin_of_share, size_for_share

LEAST_IN_STRATUM = 2
"""From one household no variance can be taken."""

DEFAULT_MARGIN = 0.05

Kind = Literal["baseline", "followup"]
Strata = Literal["area", "dwelling", "area_dwelling"]

STRATUM_COLUMNS: dict[Strata, tuple[str, ...]] = {
    "area": ("area_id",),
    "dwelling": ("dwelling",),
    "area_dwelling": ("area_id", "dwelling"),
}

POPULATION = {
    "baseline": "registered households that have no bin yet",
    "followup": "households that hold a bin",
}


@dataclass(frozen=True)
class Round:
    """A survey round that is to be drawn.

    Parameters
    ----------
    wave_id
        Code of the round.
    kind
        baseline, of households without a bin yet; followup, of those that hold one.
    opens_date, closes_date
        First and last day of asking.
    size
        Households to ask; None for as many as the margin needs.
    margin
        Half-width of the 95% interval of a share near one half, of the whole.
    response_share
        Share of those asked who are expected to answer.
    stratify
        What divides the strata.
    rest_months
        Households asked in so many months before are left in peace.
    """

    wave_id: str
    kind: Kind
    opens_date: dt.date
    closes_date: dt.date
    size: int | None = None
    margin: float = DEFAULT_MARGIN
    response_share: float = 1.0
    stratify: Strata = "area_dwelling"
    rest_months: int = 6


@dataclass(frozen=True)
class SamplePlan:
    """A round that was drawn.

    Parameters
    ----------
    asked
        What was asked for.
    drawn
        Frame of `planner.survey.drawing.draw_households`.
    strata
        One row a stratum: stratum, population_count, resting_count, asked_count,
        answers_expected, margin_expected [share].
    margin_expected
        Half-width of the 95% interval of a share near one half, of the whole [share].
    no_consent_count, asked_with_all_count
        Households outside the population: those who may not be contacted, and those whom
        a round that asked everyone has asked lately.
    not_drawn_from
        Strata in which everybody is resting.
    """

    asked: Round
    drawn: pl.DataFrame
    strata: pl.DataFrame
    margin_expected: float
    no_consent_count: int
    asked_with_all_count: int
    not_drawn_from: tuple[str, ...]


def since_date(asked: Round) -> dt.date:
    """First day from which a round counts as lately.

    Examples
    --------
    >>> day = dt.date(2026, 8, 31)
    >>> since_date(Round("F", "followup", day, day, rest_months=6))
    datetime.date(2026, 2, 28)
    """
    day = pl.lit(asked.opens_date).dt.offset_by(f"-{asked.rest_months}mo")
    since: dt.date = pl.select(day).item()
    return since


def plan_round(register: pl.DataFrame, asked: Round) -> SamplePlan:
    """Fix the population, share the sample out among strata and draw it.

    Those who may not be contacted are not of the population; nor are those whom a round
    without a sample has asked lately, for nothing was left to chance there. Those whom a
    draw by chance has asked lately rest, and the others of their stratum stand for them.
    Sizes are proportional to the households of a stratum, at least two.

    Parameters
    ----------
    register
        Query sampling_register.
    asked
        The round.

    Raises
    ------
    EstimateError
        There is nobody to ask, or more are to be asked than there are, or fewer than two
        in a stratum.
    """
    _check(asked)
    of_kind = register.filter(pl.col("has_bin") if asked.kind == "followup" else ~pl.col("had_bin"))
    may = of_kind.filter("may_contact")
    frame = may.filter(~pl.col("is_asked_with_all_lately")).select(
        "household_id",
        "random_number",
        stratum=pl.concat_str(STRATUM_COLUMNS[asked.stratify], separator=" "),
        is_resting="is_drawn_lately",
    )
    strata = _count_strata(frame)
    ready = strata.filter(pl.col("ready_count") > 0)
    if ready.is_empty():
        raise EstimateError(_nobody(asked, of_kind, may))
    sized = _with_sizes(ready, asked)
    drawn = draw_households(frame, dict(sized.select("stratum", "asked_count").iter_rows()))
    resting = strata.filter(pl.col("ready_count") == 0)["stratum"].to_list()
    return SamplePlan(
        asked,
        drawn,
        sized.drop("ready_count"),
        _whole_margin(sized),
        of_kind.height - may.height,
        may.height - frame.height,
        tuple(resting),
    )


def _check(asked: Round) -> None:
    if asked.closes_date < asked.opens_date:
        message = (
            f"round {asked.wave_id}: closes on {asked.closes_date}, before it opens on "
            f"{asked.opens_date}. Give a last day on or after the first."
        )
        raise EstimateError(message)


def _count_strata(frame: pl.DataFrame) -> pl.DataFrame:
    return (
        frame.group_by("stratum")
        .agg(
            population_count=pl.len().cast(pl.Int64),
            resting_count=pl.col("is_resting").sum().cast(pl.Int64),
        )
        .with_columns(ready_count=pl.col("population_count") - pl.col("resting_count"))
        .sort("stratum")
    )


def _with_sizes(strata: pl.DataFrame, asked: Round) -> pl.DataFrame:
    """Add households asked, answers expected and the interval that they give."""
    population, ready = (strata[name].to_numpy() for name in ("population_count", "ready_count"))
    least = np.minimum(ready, LEAST_IN_STRATUM)
    size = min(_households(asked, int(population.sum())), int(ready.sum()))
    if asked.size is not None and not least.sum() <= asked.size <= ready.sum():
        message = (
            f"--size {asked.size}: there are {ready.sum()} households to ask, and each of "
            f"{strata.height} strata needs {LEAST_IN_STRATUM}. Give a number between "
            f"{least.sum()} and {ready.sum()}."
        )
        raise EstimateError(message)
    sizes = share_out_whole(max(size, int(least.sum())), population * 1.0, least, ready)
    answers = sizes * asked.response_share
    margins = [
        min(1.0, margin_of_share(float(n), float(count)))
        for n, count in zip(answers, population, strict=True)
    ]
    return strata.with_columns(
        asked_count=pl.Series(sizes, dtype=pl.Int64),
        answers_expected=pl.Series(answers, dtype=pl.Float64),
        margin_expected=pl.Series(margins, dtype=pl.Float64),
    )


def _households(asked: Round, population_count: int) -> int:
    if asked.size is not None:
        return asked.size
    needed = size_for_share(asked.margin, population_count, response_share=asked.response_share)
    return needed.invitations


def _whole_margin(strata: pl.DataFrame) -> float:
    """Half-width of the whole, with the loss by unequal sampling shares."""
    counts, answers = (
        strata[name].to_numpy().astype(float) for name in ("population_count", "answers_expected")
    )
    weights = counts / counts.sum()
    unequal = float(answers.sum() * (weights**2 / answers).sum())
    margin = margin_of_share(
        float(answers.sum()), float(counts.sum()), design_effect=max(1.0, unequal)
    )
    return min(1.0, margin) if math.isfinite(margin) else 1.0


def _nobody(asked: Round, of_kind: pl.DataFrame, may: pl.DataFrame) -> str:
    """Say why there is nobody to ask."""
    told = f"round {asked.wave_id}: found nobody to ask. "
    if of_kind.is_empty():
        return f"{told}There are no {POPULATION[asked.kind]} on {asked.opens_date}."
    if may.is_empty():
        return f"{told}None of {of_kind.height} {POPULATION[asked.kind]} may be contacted."
    return (
        f"{told}All {may.height} {POPULATION[asked.kind]} were asked in the last "
        f"{asked.rest_months} months, or are in a round ahead. Ask later, or give a smaller "
        "--rest. A round without samples asks everyone: if one ahead is to be drawn instead, "
        "take it out with `planner withdraw waves ROUND`."
    )
