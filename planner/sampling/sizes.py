"""How many to ask in each stratum: in proportion, for areas of their own, by whole streets."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import NORMAL_95, Integers, Numbers
from planner.errors import EstimateError
from planner.messages import say
from planner.survey.drawing import cheapest_for_targets, share_out_whole
from planner.survey.sample_size import (
    LEAST_KNOWN_SHARE,
    SPREAD,
    answers_for_share,
    cluster_design_effect,
    households_to_invite,
    margin_of_share,
    share_to_ask_again,
)

if TYPE_CHECKING:
    from planner.sampling.request import Round

    Counts = Integers

LEAST_IN_STRATUM = 2
"""From one household no variance can be taken."""

LEAST_STREETS = 3
"""Fewest streets of a stratum: replicate weights need three units."""

LEAST_HEARD = 10
"""Fewest of the silent whose answers carry the weight of all of them."""

_CLOSE = 1e-6
"""A hair less than a whole number is that number."""


def households_to_ask(strata: pl.DataFrame, asked: Round) -> Counts:
    """Share out the households to ask among strata, shape (strata,).

    In proportion to the households of a stratum, at least two; or, where every area is to
    be known to a margin of its own, the fewest with which town and areas all are; where an
    area has too few households for it, all of them.

    Parameters
    ----------
    strata
        stratum, area_id, population_count, ready_count.

    Raises
    ------
    EstimateError
        The size does not fit.
    """
    population, ready = (strata[name].to_numpy() for name in ("population_count", "ready_count"))
    least = np.minimum(ready, LEAST_IN_STRATUM)
    if asked.area_margin is not None:
        return _for_areas(strata, asked, least)
    if asked.size is not None and not least.sum() <= asked.size <= ready.sum():
        message = say(
            "drawing.fail.size_strata",
            size=str(asked.size),
            count=int(ready.sum()),
            strata=strata.height,
            least=LEAST_IN_STRATUM,
            low=str(least.sum()),
            high=str(ready.sum()),
        )
        raise EstimateError(message)
    size = min(_households(asked, int(population.sum()), 1.0), int(ready.sum()))
    return share_out_whole(max(size, int(least.sum())), population * 1.0, least, ready)


def silent_to_ask(
    frame: pl.DataFrame, asked: Round, asked_count: int, silent_count: int, population_count: int
) -> int:
    """Count the silent to ask again so that the whole is known to the margin.

    Parameters
    ----------
    frame
        The silent who may be contacted, with their stratum.
    asked_count, silent_count
        Households asked at first, and those of them silent.
    population_count
        Households that they were drawn from.
    """
    share = share_to_ask_again(
        (asked.margin / NORMAL_95) ** 2 / SPREAD,
        asked_count,
        silent_count / asked_count,
        population_count,
    )
    least = frame.group_by("stratum").len("count")["count"].clip(upper_bound=LEAST_IN_STRATUM).sum()
    # fewer than ten answers would carry no weight of the silent
    wanted = math.ceil(max(share * silent_count, LEAST_HEARD) / asked.answering - _CLOSE)
    return min(max(wanted, int(least)), frame.height)


def whole_margin_again(
    answers: float, asked_count: int, silent_count: int, population_count: int
) -> float:
    """Half-width of a share of the whole, once so many of the silent have answered.

    Notes
    -----
    ``z² p (1 - p) (1 - n / N + W (1 - v) / v) / n``, see
    `planner.survey.sample_size.share_to_ask_again`.

    Examples
    --------
    >>> round(whole_margin_again(50.0, 400, 200, 1_000_000), 3)
    0.077
    """
    heard = min(1.0, answers / silent_count)
    if heard <= 0.0:
        return 1.0
    beyond = silent_count / asked_count * (1.0 - heard) / heard
    ratio = max(0.0, 1.0 - asked_count / population_count + beyond) / asked_count
    return min(1.0, NORMAL_95 * LEAST_KNOWN_SHARE * math.sqrt(ratio))


def streets_to_draw(strata: pl.DataFrame, streets: pl.DataFrame, asked: Round) -> Counts:
    """Share out the streets to draw among strata, shape (strata,), at least three of each.

    So many as hold the households that the margin needs, raised by the design effect of
    streets whose households answer alike.

    Parameters
    ----------
    strata
        stratum, population_count.
    streets
        One row a street: stratum, households_count.

    Raises
    ------
    EstimateError
        The size is larger than there are households.
    """
    population = strata["population_count"].to_numpy()
    households = streets["households_count"].to_numpy().astype(float)
    there = (
        strata.join(streets.group_by("stratum").len("streets"), on="stratum", maintain_order="left")
    )["streets"].to_numpy()
    if asked.size is not None and asked.size > population.sum():
        count = int(population.sum())
        raise EstimateError(say("drawing.fail.size", size=str(asked.size), count=count))
    wanted = _households(asked, int(population.sum()), street_design_effect(households, asked))
    count = math.ceil(wanted / households.mean())
    least = np.minimum(there, LEAST_STREETS)
    count = min(max(count, int(least.sum())), int(there.sum()))
    return share_out_whole(count, population * 1.0, least, there.astype(np.int64))


def street_design_effect(households: Numbers, asked: Round) -> float:
    """Variance of a sample of whole streets over that of single households.

    Parameters
    ----------
    households
        Shape (streets,): households of each.
    """
    variation = float(households.std() / households.mean())
    effect = cluster_design_effect(
        float(households.mean()) * asked.answering, asked.likeness, variation
    )
    return max(1.0, effect)


def _households(asked: Round, population_count: int, design_effect: float) -> int:
    if asked.size is not None:
        return asked.size
    answers = answers_for_share(asked.margin, population_count, design_effect)
    return households_to_invite(answers, asked.answering)


def _for_areas(strata: pl.DataFrame, asked: Round, least: Counts) -> Counts:
    """Fewest households with which the town and each area are known to their margins."""
    population, ready = (
        strata[name].to_numpy().astype(float) for name in ("population_count", "ready_count")
    )
    areas = strata["area_id"].unique().sort().to_list()
    member = np.stack(
        [np.ones(strata.height), *((strata["area_id"] == name).to_numpy() * 1.0 for name in areas)],
        axis=1,
    )
    most = ready * asked.answering
    wanted = np.array([asked.margin, *[asked.area_margin] * len(areas)])
    margins = _within_reach(population @ member, most @ member, wanted)
    finite = np.sqrt(population / np.maximum(population - 1.0, 1.0))
    answers = cheapest_for_targets(
        population,
        LEAST_KNOWN_SHARE * finite[:, None] * member,
        population @ member,
        margins / NORMAL_95,
        names=[say("drawing.the_town"), *areas],
        least=least.astype(float) * asked.answering,
        most=most,
    )
    asks = np.ceil(answers / asked.answering - _CLOSE).astype(np.int64)
    return np.asarray(np.minimum(asks, strata["ready_count"].to_numpy()))


def _within_reach(population: Numbers, answers: Numbers, margin: Numbers) -> Numbers:
    """Margin of the town and of each area: that wanted, or what asking everyone gives."""
    best = [
        margin_of_share(float(heard), float(count))
        for heard, count in zip(answers, population, strict=True)
    ]
    return np.maximum(margin, np.array(best) * (1.0 + _CLOSE))
