"""Weights of rows in every replicate, kept small and read some households at a time."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, TypeAlias, overload

import numpy as np

from planner.arrays import Flags, Integers, Numbers
from planner.survey.replicates import DrawnWeights

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import EllipsisType

    from numpy.typing import NDArray

    Weights: TypeAlias = Numbers | "RowWeights"
    """Weights of shape (1 + draws_count, n), written out or not."""

    Chosen = Flags | Integers

NUMBERS_AT_ONCE = 2**17
"""A megabyte of doubles, which a processor's cache holds."""

MOST_BYTES = 8 * 2**20
"""Of random numbers drawn at once for bins that came back."""

FIXED = -1
"""Source of a row that weighs the same in every replicate."""


@dataclass(frozen=True, eq=False)
class RowWeights:
    """Weights of shape (1 + draws_count, n), as a matrix would be, but never written out.

    Drawn weights are kept once, in single precision, a row a household; rows of a frame say
    which household is theirs and how many times it counts. A bin that came back stands for
    itself in every replicate and is kept nowhere. The central row is exact. Sums over rows are
    taken in double precision.

    Examples
    --------
    >>> weights = RowWeights.of(np.array([1.0, 2.0]), np.array([[3.0], [4.0]]))
    >>> weights @ np.array([1.0, 10.0]), weights[:, np.array([1])].sum(axis=1)
    (array([21., 43.]), array([2., 4.]))
    """

    central: Numbers  # shape (n,): the first row
    sources: tuple[DrawnWeights, ...]  # each of a survey round
    # shape (n,): where each row's weights are kept; FIXED where they are all 1
    source: Integers
    household: Integers
    times: Numbers  # shape (n,): by what they are multiplied
    draws_count: int  # replicates

    __array_ufunc__ = None

    @classmethod
    def of(
        cls, central: Numbers, drawn: DrawnWeights | NDArray[np.floating], fixed_count: int = 0
    ) -> RowWeights:
        """Take drawn weights, a row a household, and add rows that weigh 1 throughout."""
        known = central.size
        if isinstance(drawn, np.ndarray):
            drawn = DrawnWeights((drawn,))
        return cls(
            np.concatenate([central, np.ones(fixed_count)]),
            (drawn,),
            np.repeat(np.array([0, FIXED]), [known, fixed_count]),
            np.arange(known + fixed_count),
            np.ones(known + fixed_count),
            drawn.draws_count,
        )

    @classmethod
    def joined(cls, parts: Sequence[RowWeights]) -> RowWeights:
        """Put the rows of several one after the other."""
        before = np.cumsum([0, *(len(part.sources) for part in parts)])
        source = [
            np.where(part.source == FIXED, FIXED, part.source + shift)
            for part, shift in zip(parts, before, strict=False)
        ]
        return cls(
            np.concatenate([part.central for part in parts]),
            tuple(source for part in parts for source in part.sources),
            np.concatenate(source),
            np.concatenate([part.household for part in parts]),
            np.concatenate([part.times for part in parts]),
            parts[0].draws_count,
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows of the matrix, replicates and one, and its columns."""
        return 1 + self.draws_count, self.central.size

    @overload
    def __getitem__(self, key: int | tuple[int, Chosen]) -> Numbers: ...
    @overload
    def __getitem__(self, key: slice | tuple[slice, Chosen]) -> RowWeights: ...
    def __getitem__(
        self, key: int | slice | tuple[int, Chosen] | tuple[slice, Chosen]
    ) -> Numbers | RowWeights:
        """Take the central row, the first replicates, or some of the columns, as of a matrix."""
        if isinstance(key, tuple):
            of_rows, chosen = key
            if isinstance(of_rows, int):
                return self[of_rows][chosen]
            return replace(
                self,
                central=self.central[chosen],
                source=self.source[chosen],
                household=self.household[chosen],
                times=self.times[chosen],
            )
        if isinstance(key, int):
            return (self.central,)[key]  # no other row is written out
        draws_count = len(range(1 + self.draws_count)[key]) - 1
        if draws_count == self.draws_count:
            return self
        first = tuple(source.first(draws_count) for source in self.sources)
        return replace(self, sources=first, draws_count=draws_count)

    def __array__(self, dtype: type | None = None, copy: bool | None = None) -> Numbers:
        """Write all out; for few rows."""
        written = np.empty(self.shape)
        written[0] = self.central
        written[1:] = self.times
        for replicates, rows, drawn in self._drawn(np.ones(self.central.size, dtype=bool)):
            written[1:][replicates, rows] = drawn.T
        return written

    def __mul__(self, times: Numbers) -> RowWeights:
        """Multiply columns, each by its own number."""
        return replace(self, central=self.central * times, times=self.times * times)

    def __matmul__(self, values: NDArray[np.floating] | Flags) -> Numbers:
        """Sum columns' values by weight: of shape (n,) or (n, k), (1 + draws_count[, k])."""
        matters = values != 0.0 if values.ndim == 1 else (values != 0.0).any(axis=1)
        fixed = matters & (self.source == FIXED)
        drawn_sums = np.zeros((self.draws_count, *values.shape[1:]))
        drawn_sums += self.times[fixed] @ values[fixed]
        for replicates, rows, drawn in self._drawn(matters):
            drawn_sums[replicates] += drawn.T @ values[rows]
        return np.concatenate([(self.central @ values)[None], drawn_sums])

    def sum(self, axis: Literal[1]) -> Numbers:
        """Sum over columns, shape (1 + draws_count,)."""
        return self @ np.ones(self.central.size)

    def summed_by(self, group: Integers, count: int) -> Numbers:
        """Sum columns by group, see `summed_by`."""
        sums = np.empty((count, 1 + self.draws_count))
        sums[:, 0] = np.bincount(group, self.central, count)
        fixed = self.source == FIXED
        sums[:, 1:] = np.bincount(group[fixed], self.times[fixed], count)[:, None]
        for replicates, rows, drawn in self._drawn(~fixed, np.argsort(group, kind="stable")):
            begins = np.flatnonzero(np.diff(group[rows], prepend=-1))
            sums[:, 1:][group[rows[begins]], replicates] += np.add.reduceat(drawn, begins, axis=0)
        return np.ascontiguousarray(sums.T)

    def _drawn(
        self, chosen: Flags, order: Integers | EllipsisType = ...
    ) -> Iterator[tuple[slice, Integers, Numbers]]:
        """Read some columns' weights, some at a time: in which replicates, of which columns.

        They are of shape (columns, replicates).
        """
        places = np.arange(self.central.size)[order]
        for code, kept in enumerate(self.sources):
            own = places[(chosen & (self.source == code))[places]]
            for replicates, block in kept.parts():
                step = max(1, NUMBERS_AT_ONCE // block.shape[1])
                for start in range(0, own.size, step):
                    rows = own[start : start + step]
                    drawn = block.take(self.household[rows], axis=0).astype(np.float64)
                    times = self.times[rows]
                    is_plain = (times == 1.0).all()
                    yield replicates, rows, drawn if is_plain else drawn * times[:, None]


@dataclass(frozen=True, eq=False)
class VariedWeights:
    """Weights of which some columns are multiplied by exponentials in every replicate.

    The exponentials are drawn again, the same, whenever they are wanted.
    """

    fixed: Weights  # all weights, as if none varied
    varies: Flags  # shape (n,): which of them do
    rng: np.random.Generator  # as it was before the first exponential; it is copied, never used

    @classmethod
    def draw(cls, weights: Weights, varies: Flags, rng: np.random.Generator) -> VariedWeights:
        """Let columns vary; the generator goes on after their numbers."""
        drawn = cls(weights, varies, copy.deepcopy(rng))
        for _ in drawn._blocks(weights.shape[0], rng):
            pass
        return drawn

    @property
    def shape(self) -> tuple[int, int]:
        """As of `RowWeights`."""
        return self.fixed.shape[0], self.fixed.shape[1]

    @overload
    def __getitem__(self, key: int) -> Numbers: ...
    @overload
    def __getitem__(self, key: slice) -> VariedWeights: ...
    def __getitem__(self, key: int | slice) -> Numbers | VariedWeights:
        """Take the central row, or the first replicates."""
        if isinstance(key, slice):
            return replace(self, fixed=self.fixed[key])
        return np.asarray(self.fixed[key])

    def summed_by(self, group: Integers, count: int) -> Numbers:
        """Sum columns by group, see `summed_by`."""
        sums = summed_by(self.fixed[:, ~self.varies], group[~self.varies], count)
        # a bin that came back stands for as many in every replicate
        own, stands_for = group[self.varies], self[0][self.varies]
        sums[0] += np.bincount(own, stands_for, count)
        order = np.argsort(own, kind="stable")
        begins = np.flatnonzero(np.diff(own[order], prepend=-1))
        for rows, times in self._blocks(self.shape[0], copy.deepcopy(self.rng)):
            varied = times[:, order] * stands_for[order]
            sums[rows, own[order][begins]] += np.add.reduceat(varied, begins, axis=1)
        return sums

    def _blocks(self, rows_count: int, rng: np.random.Generator) -> Iterator[tuple[slice, Numbers]]:
        count = int(self.varies.sum())
        step = max(1, MOST_BYTES // (8 * max(count, 1)))
        for start in range(1, rows_count if count else 1, step):
            rows = slice(start, min(start + step, rows_count))
            yield rows, rng.exponential(size=(rows.stop - rows.start, count))


def summed_by(weights: Weights | VariedWeights, group: Integers, count: int) -> Numbers:
    """Sum the columns of each group, shape (1 + draws_count, count).

    Parameters
    ----------
    weights
        Shape (1 + draws_count, n), written out or not.
    group
        Shape (n,): group of each column, numbered from 0.
    count
        Groups; one without columns sums to 0.

    Examples
    --------
    >>> summed_by(np.array([[1.0, 2.0, 4.0]]), np.array([2, 0, 2]), 3).tolist()
    [[2.0, 0.0, 5.0]]
    """
    if not isinstance(weights, np.ndarray):
        return weights.summed_by(group, count)
    sums = np.zeros((weights.shape[0], count))
    order = np.argsort(group, kind="stable")
    begins = np.flatnonzero(np.diff(group[order], prepend=-1))
    if begins.size:
        sums[:, group[order][begins]] = np.add.reduceat(weights[:, order], begins, axis=1)
    return sums
