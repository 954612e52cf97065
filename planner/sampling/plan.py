"""Whom a survey round asks: its population, sizes by stratum, the draw."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import EstimateError
from planner.messages import say
from planner.sampling.sizes import (
    households_to_ask,
    silent_to_ask,
    street_design_effect,
    streets_to_draw,
    whole_margin_again,
)
from planner.survey.drawing import draw_clusters, draw_households
from planner.survey.sample_size import margin_of_share

if TYPE_CHECKING:
    from planner.sampling.request import Round, Strata

STRATUM_COLUMNS: dict[Strata, tuple[str, ...]] = {
    "area": ("area_id",),
    "dwelling": ("dwelling",),
    "area_dwelling": ("area_id", "dwelling"),
}


@dataclass(frozen=True)
class SamplePlan:
    """A round that was drawn."""

    asked: Round
    # frame of `planner.survey.drawing.draw_households`; cluster_id is null unless whole streets
    # were drawn
    drawn: pl.DataFrame
    # one row a stratum, with stratum, population_count, resting_count, asked_count,
    # answers_expected and margin_expected
    strata: pl.DataFrame
    # half-width of the 95% interval of a share near one half, of the whole [share]
    margin_expected: float
    # households outside the population: those who may not be contacted, and those whom a round that
    # asked everyone has asked lately
    no_consent_count: int
    asked_with_all_count: int
    not_drawn_from: tuple[str, ...]  # strata in which everybody is resting
    streets_count: int | None = None  # streets drawn; None where single households were


def since_date(asked: Round) -> dt.date:
    """First day from which a round counts as lately.

    Examples
    --------
    >>> day = dt.date(2026, 8, 31)
    >>> from planner.sampling.request import Round
    >>> since_date(Round("F", "followup", day, day, rest_months=6))
    datetime.date(2026, 2, 28)
    """
    day = pl.lit(asked.opens_date).dt.offset_by(f"-{asked.rest_months}mo")
    since: dt.date = pl.select(day).item()
    return since


def plan_round(
    register: pl.DataFrame,
    asked: Round,
    streets: pl.DataFrame | None = None,
    seed_words: str = "",
) -> SamplePlan:
    """Fix the population, share the sample out among strata and draw it.

    Those who may not be contacted are not of the population; nor are those whom a round
    without a sample has asked lately, for nothing was left to chance there. Those whom a
    draw by chance has asked lately rest, and the others of their stratum stand for them.

    Parameters
    ----------
    streets
        Frame of `planner.sampling.drawing.streets`, where whole streets are drawn.

    Raises
    ------
    EstimateError
        There is nobody to ask, or more are to be asked than there are, or fewer than two
        in a stratum, or the options do not go together.
    """
    _check(asked)
    of_kind = register.filter(pl.col("has_bin") if asked.kind == "followup" else ~pl.col("had_bin"))
    may = of_kind.filter("may_contact")
    frame = _frame(may.filter(~pl.col("is_asked_with_all_lately")), asked)
    strata = _count_strata(frame)
    ready = strata.filter(pl.col("ready_count") > 0)
    if ready.is_empty():
        raise EstimateError(_nobody(asked, of_kind, may))
    drawn, effect = _draw(frame, ready, asked, streets, seed_words)
    sized = _with_sizes(ready, drawn, asked, effect)
    resting = strata.filter(pl.col("ready_count") == 0)["stratum"].to_list()
    return SamplePlan(
        asked,
        drawn,
        sized.drop("ready_count", "area_id"),
        _whole_margin(sized, effect),
        of_kind.height - may.height,
        may.height - frame.height,
        tuple(resting),
        None if streets is None else drawn["cluster_id"].n_unique(),
    )


def plan_again(register: pl.DataFrame, asked: Round, population_count: int) -> SamplePlan:
    """Draw some of those silent in a round, to be asked again.

    Those who may not be contacted any more are left out; the others stand for them. As many
    are drawn as the margin needs once they have answered as expected, with the response of
    the round so far.

    Parameters
    ----------
    population_count
        Households that the first round speaks for.

    Raises
    ------
    EstimateError
        Nobody is silent, or the options do not go together.
    """
    if asked.by_street or asked.area_margin is not None:
        raise EstimateError(say("drawing.fail.silent_single"))
    _check(asked)
    silent = register.filter(~pl.col("has_answered"))
    may = silent.filter("may_contact")
    frame = _frame(may.with_columns(is_drawn_lately=pl.lit(value=False)), asked)
    if frame.is_empty():
        message = say(
            "drawing.fail.nobody_again",
            wave=asked.wave_id,
            awaited=register.height,
            of=str(asked.silent_of),
            silent=silent.height,
        )
        raise EstimateError(message)
    counts = (register.height, silent.height, population_count)
    sized = asked if asked.size else replace(asked, size=silent_to_ask(frame, asked, *counts))
    strata = _count_strata(frame)
    drawn, effect = _draw(frame, strata, sized, None, "")
    return SamplePlan(
        asked,
        drawn,
        _with_sizes(strata, drawn, asked, effect).drop("ready_count", "area_id"),
        whole_margin_again(drawn.height * asked.answering, *counts),
        silent.height - frame.height,
        0,
        (),
    )


def _frame(may: pl.DataFrame, asked: Round) -> pl.DataFrame:
    """Lay out those who may be drawn by stratum."""
    return may.select(
        "household_id",
        "area_id",
        "random_number",
        stratum=pl.concat_str(STRATUM_COLUMNS[asked.stratify], separator=" "),
        is_resting="is_drawn_lately",
    )


def _draw(
    frame: pl.DataFrame,
    strata: pl.DataFrame,
    asked: Round,
    streets: pl.DataFrame | None,
    seed_words: str,
) -> tuple[pl.DataFrame, float]:
    """Draw single households or whole streets; with the design effect of the draw."""
    if streets is None:
        wanted = dict(zip(strata["stratum"], households_to_ask(strata, asked), strict=True))
        drawn = draw_households(frame, wanted)
        return drawn.with_columns(cluster_id=pl.lit(None, dtype=pl.String)), 1.0
    placed = _with_streets(frame, streets)
    counted = placed.group_by("stratum", "cluster_id").len("households_count")
    wanted = dict(zip(strata["stratum"], streets_to_draw(strata, counted, asked), strict=True))
    effect = street_design_effect(counted["households_count"].to_numpy() * 1.0, asked)
    return _numbered(draw_clusters(placed, wanted, seed_words), asked.wave_id), effect


def _check(asked: Round) -> None:
    if asked.closes_date < asked.opens_date:
        days = {"closes": asked.closes_date, "opens": asked.opens_date}
        message = say("drawing.fail.closes", wave=asked.wave_id, **days)
        raise EstimateError(message)
    if asked.by_street and (asked.stratify != "area" or asked.area_margin is not None):
        raise EstimateError(say("drawing.fail.streets"))
    if asked.area_margin is not None and (asked.size is not None or asked.stratify == "dwelling"):
        raise EstimateError(say("drawing.fail.area_margin"))


def _with_streets(frame: pl.DataFrame, streets: pl.DataFrame) -> pl.DataFrame:
    """Add the street within the area; a household without an address is one of its own."""
    street = pl.concat_str("area_id", "street", separator=" ")
    return frame.join(streets, on="household_id", how="left", maintain_order="left").select(
        "household_id", "stratum", "is_resting", cluster_id=street.fill_null(pl.col("household_id"))
    )


def _numbered(drawn: pl.DataFrame, wave_id: str) -> pl.DataFrame:
    """Give the streets numbers in the order of the draw, as the records hold no address."""
    number = pl.col("random_number").rank("dense").cast(pl.Int64).cast(pl.String).str.zfill(3)
    return drawn.with_columns(cluster_id=pl.lit(f"{wave_id}-street-") + number)


def _count_strata(frame: pl.DataFrame) -> pl.DataFrame:
    return (
        frame.group_by("stratum")
        .agg(
            # of areas where the strata are; of dwellings alone it is not asked for
            area_id=pl.col("area_id").first(),
            population_count=pl.len().cast(pl.Int64),
            resting_count=pl.col("is_resting").sum().cast(pl.Int64),
        )
        .with_columns(ready_count=pl.col("population_count") - pl.col("resting_count"))
        .sort("stratum")
    )


def _with_sizes(
    strata: pl.DataFrame, drawn: pl.DataFrame, asked: Round, design_effect: float
) -> pl.DataFrame:
    """Add households asked, answers expected and the interval that they give."""
    counted = strata.join(
        drawn.group_by("stratum").agg(asked_count=pl.len().cast(pl.Int64)),
        on="stratum",
        how="left",
        maintain_order="left",
    ).with_columns(pl.col("asked_count").fill_null(0))
    answers = counted["asked_count"].to_numpy() * asked.answering
    margins = [
        min(1.0, margin_of_share(float(n), float(count), design_effect))
        for n, count in zip(answers, counted["population_count"], strict=True)
    ]
    return counted.with_columns(
        answers_expected=pl.Series(answers, dtype=pl.Float64),
        margin_expected=pl.Series(margins, dtype=pl.Float64),
    )


def _whole_margin(strata: pl.DataFrame, design_effect: float) -> float:
    """Half-width of the whole, with the loss by unequal sampling shares and by streets."""
    counts, answers = (
        strata[name].to_numpy().astype(float) for name in ("population_count", "answers_expected")
    )
    weights = counts / counts.sum()
    unequal = float(answers.sum() * (weights**2 / answers).sum())
    effect = max(1.0, unequal) * design_effect
    margin = margin_of_share(float(answers.sum()), float(counts.sum()), effect)
    return min(1.0, margin) if math.isfinite(margin) else 1.0


def _nobody(asked: Round, of_kind: pl.DataFrame, may: pl.DataFrame) -> str:
    """Say why there is nobody to ask."""
    named = {"wave": asked.wave_id, "population": asked.population}
    if of_kind.is_empty():
        return say("drawing.nobody.none", day=asked.opens_date, **named)
    if may.is_empty():
        return say("drawing.nobody.no_contact", count=of_kind.height, **named)
    return say("drawing.nobody.resting", count=may.height, months=asked.rest_months, **named)
