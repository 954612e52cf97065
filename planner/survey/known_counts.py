"""Weights of a round made to agree with the register: which counts, and in every replicate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, quotient
from planner.errors import EstimateError
from planner.messages import paper, say
from planner.survey.calibration import Crossed, Margin, rake

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


LEAST_ANSWERS_IN_CELL = 20
"""Every cell of area and dwelling has a count of its own with so many answers in each."""

LEAST_ANSWERS_IN_CATEGORY = 10
"""An area or a dwelling with fewer answers is put together with the other small ones."""

TIMES_THE_MEAN = 5.0
TIMES_A_CELL = 2.0
MOST_CUTS = 200
TURNS_BEFORE_RAISING = 10
RAISED_TIMES = 1.25
SLACK = 1e-3
"""A weight this little above the largest allowed is left."""

_OVER = 1e-9

BESIDES = ("people", "cohort")
"""Columns that the weights are made to agree with besides area and dwelling. How many told that
they had stopped is not among them: tried, it narrowed intervals more than errors."""

Rule = str


@dataclass(frozen=True)
class KnownCounts:
    """Counts that the weights are made to meet."""

    places: tuple[Margin, ...]  # margins of areas and dwellings, together or apart
    besides: tuple[Margin, ...]  # margin of each of BESIDES, in their order
    words: Rule  # whether `places` are areas and dwellings together, "each", or "apart"

    def with_first(self, count: int) -> tuple[tuple[Margin, ...], Rule]:
        """Margins with the first of `besides` alone, and what they are.

        One margin is post-stratification, several are raking.
        """
        margins = (*self.places, *self.besides[:count])
        # one cell alone is met by any other margin, and says nothing
        words = [
            paper().say(f"said.counts.{name}")
            for name, margin in zip(BESIDES, self.besides[:count], strict=False)
            if margin.counts.size > 1
        ]
        several = tuple(margin for margin in margins if margin.counts.size > 1)
        # one cell alone still fixes how many households there are
        return several or margins[:1], ", ".join([paper().say(f"said.counts.{self.words}"), *words])


def known_counts(asked: pl.DataFrame, population: pl.DataFrame) -> KnownCounts:
    """Choose what the weights of a round are made to agree with.

    Cells of area and dwelling where each that has households has twenty answers, else areas
    and dwellings as two margins; besides, people in the household and quarters of the first
    bin. Categories with fewer than ten answers are put together, sizes and quarters with their
    neighbours.

    Parameters
    ----------
    asked
        A row a household asked: area_id, dwelling, people, cohort, has_answered, is_settled;
        answers that were awaited count.
    population
        Query households_by_wave of the round, without bins that had come back.

    References
    ----------
    Kalton, G. and Flores-Cervantes, I. (2003), Weighting methods, Journal of Official
    Statistics 19, 81-97 (small cells). Twenty and ten: common practice, no source.
    """
    as_text = pl.col("dwelling", *BESIDES).cast(pl.String)
    own, known = asked.with_columns(as_text), population.with_columns(as_text)
    own = own.with_columns(counts=pl.col("has_answered") & ~pl.col("is_settled"))
    cells = known.filter(pl.col("households_count") > 0).select("area_id", "dwelling").unique()
    found = own.filter("counts").group_by("area_id", "dwelling").len("answers")
    fewest = cells.join(found, on=["area_id", "dwelling"], how="left")["answers"].fill_null(0).min()
    if fewest is not None and int(fewest) >= LEAST_ANSWERS_IN_CELL:  # type: ignore[arg-type]
        places = [Margin.of(own, known, ["area_id", "dwelling"])]
        words = "each"
    else:
        places = [_margin(own, known, name, _small) for name in ("area_id", "dwelling")]
        words = "apart"
    besides = tuple(_margin(own, known, name, _neighbours) for name in BESIDES)
    return KnownCounts(tuple(places), besides, words)


def _margin(
    own: pl.DataFrame,
    known: pl.DataFrame,
    column: str,
    merging: Callable[[pl.DataFrame], dict[str, str]],
) -> Margin:
    """Margin of one column, its categories with few answers merged by a rule."""
    answers = (
        known.group_by(column)
        .agg(pl.col("households_count").sum())
        .filter(pl.col("households_count") > 0)
        .select(column)
        .join(own.filter("counts").group_by(column).len("answers"), on=column, how="left")
        .select(category=pl.col(column), answers=pl.col("answers").fill_null(0))
    )
    name = pl.col(column).replace(merging(answers))
    return Margin.of(own.with_columns(name), known.with_columns(name), [column])


def _small(answers: pl.DataFrame) -> dict[str, str]:
    """Put categories with few answers together, with the next smallest where still few."""
    return dict.fromkeys(smallest(answers, LEAST_ANSWERS_IN_CATEGORY), "small ones")


def smallest(counted: pl.DataFrame, least: int) -> list[str]:
    """Name those with fewer than `least`, and the next smallest until they have so many together.

    Parameters
    ----------
    counted
        A name and a count in each row.

    Examples
    --------
    >>> smallest(pl.DataFrame({"name": ["a", "b", "c"], "count": [9, 3, 5]}), 6)
    ['b', 'c']
    >>> smallest(pl.DataFrame({"name": ["a", "b"], "count": [9, 8]}), 6)
    []
    """
    name, count = counted.columns
    before = pl.col(count).cum_sum().shift(1, fill_value=0)
    is_few = pl.col(count) < least
    chosen = counted.sort(count, name).filter(is_few.any() & (is_few | (before < least)))
    return chosen[name].to_list()


def _neighbours(answers: pl.DataFrame) -> dict[str, str]:
    """Put ordered categories with few answers together with the next, the last with those before.

    Categories are a handful, so they are walked through one by one.
    """
    merged: list[list[str]] = []
    open_count = LEAST_ANSWERS_IN_CATEGORY
    for category, count in answers.sort("category").iter_rows():
        if open_count >= LEAST_ANSWERS_IN_CATEGORY:
            merged.append([])
            open_count = 0
        merged[-1].append(category)
        open_count += count
    if open_count < LEAST_ANSWERS_IN_CATEGORY and len(merged) > 1:
        last = merged.pop()
        merged[-1] += last
    return {
        category: f"{group[0]} to {group[-1]}"
        for group in merged
        if len(group) > 1
        for category in group
    }


def weights_that_meet(
    weights: Numbers, multipliers: Numbers, margins: Sequence[Margin] | Crossed
) -> tuple[Numbers, int]:
    """Meet the margins with no weight above the largest allowed, in every row.

    A weight is cut at five times the mean, or at twice the mean of the category whose mean
    is largest where that is more; what is cut goes to the others in equal parts, and the
    margins are met again, in turn, until both hold. Where they do not after ten turns, a
    quarter more is allowed. Multipliers of replicates are no
    weights: they are taken off before and put back after.

    Parameters
    ----------
    weights, multipliers
        Shape (rows, n): weights, the multipliers among them.

    Returns
    -------
    tuple
        Weights, shape (rows, n), and how many of the first row were cut.

    Raises
    ------
    EstimateError
        See `planner.survey.calibration.rake`; or the weights cannot be cut.

    References
    ----------
    Potter, F.J. (1990), Proceedings of the Survey Research Methods Section, American
    Statistical Association, 225-230. Valliant, R., Dever, J.A. and Kreuter, F. (2018),
    Practical Tools for Designing and Weighting Survey Samples, chapter 14.
    """
    crossed = margins if isinstance(margins, Crossed) else Crossed.of(margins)
    met = rake(weights, crossed)
    relative = quotient(met, multipliers)
    most = _largest_allowed(relative, crossed)
    over = relative > most[:, None] * (1.0 + _OVER)
    cut = int(over[0].sum())
    rows = np.flatnonzero(over.any(axis=1))
    for turn in range(MOST_CUTS):
        if not rows.size:
            return met, cut
        if turn and turn % TURNS_BEFORE_RAISING == 0:
            most[rows] *= RAISED_TIMES
        own = multipliers[rows]
        met[rows] = again = rake(cut_rows(met[rows], own, most[rows]), crossed.of_rows(rows))
        is_over = quotient(again, own) > most[rows, None] * (1.0 + SLACK)
        rows = rows[is_over.any(axis=1)]
    raise EstimateError(say("estimate.no_cut", households=f"{most[0]:.3g}"))


def _largest_allowed(weights: Numbers, crossed: Crossed) -> Numbers:
    """Largest weight allowed in each row, shape (rows,)."""
    sums = crossed.sums(crossed.answers.sums(weights))
    counts = crossed.sums(crossed.answers.sums(np.ones((1, weights.shape[1]))))
    means = [found / count.clip(1.0) for found, count in zip(sums, counts, strict=True)]
    of_cells = np.concatenate(means, axis=1).max(axis=1)
    return np.asarray(np.maximum(TIMES_THE_MEAN * weights.mean(axis=1), TIMES_A_CELL * of_cells))


def cut_rows(weights: Numbers, multipliers: Numbers, most: Numbers) -> Numbers:
    """Cut weights at a bound and give the excess to the others, once.

    Parameters
    ----------
    weights, multipliers
        Shape (rows, n); the others take equal parts, times their multipliers.
    most
        Shape (rows,): largest weight allowed, multipliers apart.

    Examples
    --------
    >>> cut_rows(np.array([[1.0, 1.0, 10.0]]), np.ones((1, 3)), np.array([6.0])).tolist()
    [[3.0, 3.0, 6.0]]
    """
    ceiling = most[:, None] * multipliers
    is_over = weights >= ceiling
    cut = np.where(is_over, ceiling, weights)
    excess = (weights - cut).sum(axis=1, keepdims=True)
    parts = np.where(is_over, 0.0, multipliers)
    return np.asarray(cut + excess * parts / parts.sum(axis=1, keepdims=True))
