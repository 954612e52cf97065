"""Weights that add up to known counts of households: raking, for all replicates at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, reduce
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy

from planner.arrays import Integers, Numbers
from planner.errors import EstimateError
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Sequence


TOLERANCE = 1e-10
"""Largest relative error of a margin at which raking has converged."""

MOST_ROUNDS = 1000

FEW_MEMBERS = 2**14
"""Cells times members up to which who is in which cell is written out."""


@dataclass(frozen=True)
class Margin:
    """Known counts of one way to divide the households."""

    name: str  # what divides them, as "area and dwelling"
    cell: Integers  # shape (n,): cell of each answer, numbered from 0
    labels: tuple[str, ...]  # names of the cells
    counts: Numbers  # shape (cells,), or (rows, cells): households that are known to be in each

    @classmethod
    def of(cls, answers: pl.DataFrame, population: pl.DataFrame, columns: Sequence[str]) -> Margin:
        """Make a margin from frames.

        Parameters
        ----------
        answers
            One row an answer, with the columns.
        population
            One row a cell or finer: the columns and households_count.
        columns
            What divides the households, as area_id and dwelling.

        Raises
        ------
        EstimateError
            An answer lies in a cell that the population does not have.

        Examples
        --------
        >>> answers = pl.DataFrame({"area_id": ["N", "S", "N"]})
        >>> known = pl.DataFrame({"area_id": ["S", "N"], "households_count": [4, 9]})
        >>> margin = Margin.of(answers, known, ["area_id"])
        >>> margin.labels, margin.counts.tolist(), margin.cell.tolist()
        (('N', 'S'), [9.0, 4.0], [0, 1, 0])
        """
        label = pl.concat_str(columns, separator=" ").alias("label")
        cells = (
            population.group_by(label).agg(pl.col("households_count").sum()).sort("label")
        ).with_row_index("cell")
        placed = answers.select(label).join(cells, on="label", how="left", maintain_order="left")
        name = reduce(lambda one, more: say("estimate.margin.and", first=one, second=more), columns)
        lost = placed.filter(pl.col("cell").is_null())
        if not lost.is_empty():
            raise EstimateError(say("estimate.margin.lost", name=name, cell=lost["label"][0]))
        return cls(
            name,
            placed["cell"].cast(pl.Int64).to_numpy(),
            tuple(cells["label"]),
            cells["households_count"].cast(pl.Float64).to_numpy(),
        )

    def sums(self, weights: Numbers) -> Numbers:
        """Sum weights, shape (rows, n), by cell: shape (rows, cells)."""
        return np.asarray((self._members @ weights.T).T)

    @cached_property
    def _members(self) -> scipy.sparse.csr_array | Numbers:
        """Who is in each cell, shape (cells, n); of few, all is written out, which sums faster."""
        cells = np.arange(self.counts.shape[-1])
        if cells.size * self.cell.size <= FEW_MEMBERS:
            return (cells[:, None] == self.cell).astype(float)
        return scipy.sparse.csr_array(
            (np.ones(self.cell.size), (self.cell, np.arange(self.cell.size))),
            shape=(cells.size, self.cell.size),
        )

    def counting(self, counts: Numbers) -> Margin:
        """Give the same cells other counts; who is in each is not looked up again."""
        other = replace(self, counts=counts)
        vars(other)["_members"] = self._members
        return other

    def refuse_empty(self, found: Numbers) -> None:
        """Refuse cells that no weight can fill, by what is found in each.

        Raises
        ------
        EstimateError
            A cell with households has no answer, or one with answers has no household.
        """
        known = np.atleast_2d(self.counts)[0]
        for cells, fault in (
            ((known > 0.0) & (found <= 0.0), "no_answer"),
            ((known <= 0.0) & (found > 0.0), "no_household"),
        ):
            if cells.any():
                cell = self.labels[int(np.argmax(cells))]
                raise EstimateError(say(f"estimate.margin.{fault}", name=self.name, cell=cell))


def kish_design_effect(weights: Numbers) -> float:
    """Loss of precision by unequal weights, ``n sum w² / (sum w)²``.

    References
    ----------
    Kish, L. (1992), Weighting for unequal Pi, Journal of Official Statistics 8, 183-200.

    Examples
    --------
    >>> kish_design_effect(np.array([1.0, 1.0])), kish_design_effect(np.array([0.0, 2.0]))
    (1.0, 2.0)
    """
    relative = weights / weights.mean()
    return float(np.mean(relative**2))


@dataclass(frozen=True)
class Crossed:
    """Margins crossed: the cells that hold answers, whatever their weights.

    The first margin is set against all the others together. What these do to a cell is the
    same for every cell of one combination of theirs, and there are few combinations.
    """

    margins: tuple[Margin, ...]
    answers: Margin  # cell of each answer
    # to which of the first margin, to which combination of the others each cell belongs
    first: Margin
    others: Margin
    ways: tuple[Margin, ...]  # the other margins, of combinations

    @classmethod
    def of(cls, margins: Sequence[Margin]) -> Crossed:
        """Cross margins; one alone is set against a single combination."""
        first, *rest = margins
        alone = Margin("", np.zeros_like(first.cell), (), np.zeros(1))
        shape = tuple(margin.counts.size for margin in (*rest, alone))
        found = np.ravel_multi_index(tuple(margin.cell for margin in (*rest, alone)), shape)
        met, combination = np.unique(found, return_inverse=True)
        crossed, place = np.unique(first.cell * met.size + combination, return_inverse=True)
        own, other = np.divmod(crossed, met.size)
        return cls(
            tuple(margins),
            Margin("", place, (), np.zeros(crossed.size)),
            replace(first, cell=own),
            Margin("", other, (), np.zeros(met.size)),
            tuple(
                replace(margin, cell=cell)
                for margin, cell in zip(rest, np.unravel_index(met, shape), strict=False)
            ),
        )

    def without(self, taken: Sequence[Numbers]) -> Crossed:
        """Take off each margin's counts what others weigh in every row, shape (rows, cells)."""
        left = [
            # of a cell that others fill, rounding leaves a hair
            np.where(rest > TOLERANCE * margin.counts, rest, 0.0)
            for margin, rest in zip(
                self.margins,
                (margin.counts - sums for margin, sums in zip(self.margins, taken, strict=True)),
                strict=True,
            )
        ]
        return self._counting(left)

    def of_rows(self, rows: Integers) -> Crossed:
        """Give the margins of some rows of weights, where each row has counts of its own."""
        if self.first.counts.ndim == 1:
            return self
        return self._counting([margin.counts[rows] for margin in self.margins])

    def _counting(self, counts: Sequence[Numbers]) -> Crossed:
        margins = zip(self.margins, counts, strict=True)
        ways = zip(self.ways, counts[1:], strict=True)
        return replace(
            self,
            margins=tuple(replace(margin, counts=own) for margin, own in margins),
            first=self.first.counting(counts[0]),
            ways=tuple(way.counting(own) for way, own in ways),
        )

    def sums(self, of_cells: Numbers) -> list[Numbers]:
        """Sum numbers of cells, shape (rows, cells), by the cells of each margin."""
        of_others = self.others.sums(of_cells)
        return [self.first.sums(of_cells), *(way.sums(of_others) for way in self.ways)]


def rake(weights: Numbers, margins: Sequence[Margin] | Crossed) -> Numbers:
    """Make every row of weights add up to the counts of several margins at once.

    One margin after the other is met, over and over, until all are within 1e-10. One margin
    alone is post-stratification.

    Parameters
    ----------
    weights
        Shape (rows, n).

    Raises
    ------
    EstimateError
        A cell with households has no answer, or the margins cannot all be met; the message
        names it.

    References
    ----------
    Deming, W.E. and Stephan, F.F. (1940), Annals of Mathematical Statistics 11, 427-444.
    Deville, J.-C. and Saerndal, C.-E. (1992), Journal of the American Statistical
    Association 87, 376-382.

    Examples
    --------
    >>> margin = Margin("area", np.array([0, 0, 1]), ("N", "S"), np.array([8.0, 3.0]))
    >>> rake(np.array([[1.0, 1.0, 1.0], [1.0, 3.0, 5.0]]), [margin]).tolist()
    [[4.0, 4.0, 3.0], [2.0, 6.0, 3.0]]
    """
    crossed = margins if isinstance(margins, Crossed) else Crossed.of(margins)
    first, others = crossed.first, crossed.others
    start = crossed.answers.sums(weights)
    for way, found in zip(crossed.margins, crossed.sums(start[:1]), strict=True):
        way.refuse_empty(found[0])
    of_others = np.ones((others.counts.size, len(weights))).T
    for _ in range(MOST_ROUNDS):
        of_first = _share(first, first.sums(_times_cells(start, of_others, others)))
        table = others.sums(_times_cells(start, of_first, first)) * of_others
        # the first is met: where the others are so too, all are
        if all(_worst(way.sums(table), way) <= TOLERANCE for way in crossed.ways):
            times = _times_cells(_of_cells(of_first, first), of_others, others)
            return _times_cells(weights, times, crossed.answers)
        for way in crossed.ways:
            times = _of_cells(_share(way, way.sums(table)), way)
            table *= times
            of_others *= times
    sums = crossed.sums(_times_cells(_times_cells(start, of_first, first), of_others, others))
    way, found = max(
        zip(crossed.margins, sums, strict=True), key=lambda one: _worst(one[1], one[0])
    )
    error = np.abs(found - way.counts).max(axis=0)
    message = say(
        "estimate.margin.off",
        names=", ".join(margin.name for margin in crossed.margins),
        name=way.name,
        cell=way.labels[int(np.argmax(error))],
        households=f"{error.max():.3g}",
    )
    raise EstimateError(message)


def _of_cells(of_cells: Numbers, way: Margin) -> Numbers:
    """Repeat the numbers of cells, shape (rows, cells), for each household in them."""
    # a row a household lies together in memory, as sums over cells leave it
    return np.asarray(of_cells.T.take(way.cell, axis=0).T)


def _times_cells(numbers: Numbers, of_cells: Numbers, way: Margin) -> Numbers:
    """Multiply households' numbers by those of their cells."""
    times = _of_cells(of_cells, way)
    times *= numbers
    return times


def _share(way: Margin, found: Numbers) -> Numbers:
    """By what cells must be multiplied to meet a margin; an empty cell by 1."""
    # as found lies in memory: a row a household together
    return np.divide(way.counts, found, out=np.ones_like(found), where=found > 0.0)


def _worst(found: Numbers, way: Margin) -> float:
    return float((np.abs(found - way.counts) / np.where(way.counts > 0.0, way.counts, 1.0)).max())
