"""Replicate weights: drawn for each row of an answer, and kept as what they were drawn from."""

from __future__ import annotations

import mmap
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from typing import IO, TYPE_CHECKING, Any

import numpy as np
import scipy

from planner.arrays import Integers, Numbers
from planner.errors import EstimateError, StoreError
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Block = NDArray[np.floating[Any]]

LEAST_WIDTH = 64
"""Replicates that are kept side by side: those of fewer are slow to read for a few households."""


@dataclass(frozen=True, eq=False)
class DrawnWeights:
    """Weights of a round's households, some replicates after the others.

    Of those in a file a block at a time is in memory.
    """

    blocks: tuple[Block, ...]  # each of shape (households, replicates)
    file: mmap.mmap | None = None  # in which they lie; it is gone when nobody reads it any more

    @property
    def draws_count(self) -> int:
        """Replicates."""
        return sum(block.shape[1] for block in self.blocks)

    def first(self, draws_count: int) -> DrawnWeights:
        """Take the first replicates; the others can leave the memory."""
        cut = (
            block if span.stop <= draws_count else block[:, : draws_count - span.start].copy()
            for span, block in self.parts()
            if span.start < draws_count
        )
        return DrawnWeights(tuple(cut), self.file)

    def parts(self) -> Iterator[tuple[slice, Block]]:
        """Give one block after the other, with the replicates that it holds."""
        start = 0
        for block in self.blocks:
            yield slice(start, start + block.shape[1]), block
            start += block.shape[1]
            # not every system can let go of what was read
            if self.file is not None and hasattr(mmap, "MADV_DONTNEED"):
                self.file.madvise(mmap.MADV_DONTNEED)


class KeptWeights:
    """Takes the weights of a round as they are drawn."""

    def __init__(self, *, is_in_file: bool) -> None:
        self._is_in_file = is_in_file
        self._file: IO[bytes] | None = None
        self._waiting: list[Block] = []
        self._blocks: list[Block] = []  # of those in a file their shapes

    def add(self, weights: Numbers) -> None:
        """Take some replicates more, shape (households, replicates), in single precision.

        Raises
        ------
        StoreError
            There is no room for them on the disk.
        """
        self._waiting.append(np.ascontiguousarray(weights, dtype=np.float32))
        if sum(block.shape[1] for block in self._waiting) >= LEAST_WIDTH:
            self._put_away()

    def done(self) -> DrawnWeights:
        """Give all of them out."""
        if self._waiting:
            self._put_away()
        if self._file is None:
            return DrawnWeights(tuple(self._blocks))
        with self._file as file:
            file.flush()
            mapped = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
        ends = np.cumsum([block.size for block in self._blocks])[:-1]
        parts = zip(self._blocks, np.split(np.frombuffer(mapped, np.float32), ends), strict=True)
        return DrawnWeights(tuple(part.reshape(block.shape) for block, part in parts), mapped)

    def _put_away(self) -> None:
        block = np.hstack(self._waiting)
        self._waiting.clear()
        if self._is_in_file:
            try:
                self._file = self._file or tempfile.TemporaryFile()  # noqa: SIM115 - until done
                self._file.write(block.data)
            except OSError as error:
                raise StoreError(say("store.disk_full", path=tempfile.gettempdir())) from error
            block = np.broadcast_to(np.float32(0.0), block.shape)
        self._blocks.append(block)


LEAST_UNITS_FOR_GAMMA = 3
"""Fewest units for which gamma multipliers can carry the variance."""

LEAST_OCTAVE, OCTAVES, BITS_OF_OCTAVE = -24, 30, 8
"""Table of quantiles: exponentials from 2^-24 to 2^6 in 30 octaves of 256 parts. A single
precision number's own bits are then its place in the table."""


@dataclass(frozen=True)
class GammaStrata:
    """Multipliers made from each unit's own random numbers, the same in every round.

    In each stratum gamma numbers are divided by their mean, as in the Bayesian bootstrap,
    with the gamma's shape set so that the variance of a stratum mean over replicates is
    that of simple random sampling of units, s²/n. A unit asked in two rounds has high or
    low multipliers in both, so that what is pooled over rounds keeps its correlation.

    Notes
    -----
    For weights n g / sum(g) with g gamma of shape a, the variance of the mean is
    ``s_n² / (n a + 1)`` with ``s_n²`` over n; it is ``s² / n`` where ``a = (n - 2) / n``.

    References
    ----------
    Rubin, D.B. (1981), The Bayesian Bootstrap, Annals of Statistics 9, 130-134. Beaumont,
    J.-F. and Patak, Z. (2012), International Statistical Review 80, 127-148 (generalised
    bootstrap of survey weights).

    Examples
    --------
    >>> strata = GammaStrata.of(np.array([0, 0, 0]), np.array([0.0]))
    >>> columns = strata.multipliers(exponentials(np.array([[0.2], [0.5], [0.9]])))
    >>> columns.shape, columns.mean(axis=0).round(12).tolist()
    ((3, 1), [1.0])
    """

    stratum: Integers  # shape (n,): stratum of each household, numbered from 0
    # shape (n,): how far from 1 a multiplier goes; 0 where nothing was left to chance
    spread: Numbers
    table: NDArray[np.int32]  # shape (n,): where each household's table of gamma quantiles begins
    # the tables, one after the other: a line for each part of an octave
    quantiles: Numbers
    slopes: Numbers
    mean: scipy.sparse.csr_array  # shape (strata, n), sparse: takes the mean over units

    @classmethod
    def of(
        cls, stratum: Integers, sampling_share: Numbers, unit: Integers | None = None
    ) -> GammaStrata:
        """Count the units of the strata.

        Parameters
        ----------
        stratum
            Shape (n,): stratum of each household, numbered from 0.
        sampling_share
            Shape (strata,): share of each stratum's population in the sample, 0 to 1.
        unit
            Shape (n,): what was drawn together, a cluster or else the household itself; every
            household is a unit unless said.

        Raises
        ------
        EstimateError
            A stratum has fewer than three units and a part of its population out of sight.
        """
        first = np.arange(stratum.size)
        if unit is not None:
            both = stratum * (int(unit.max(initial=0)) + 1) + unit
            first = np.unique(both, return_index=True)[1]
        count = np.bincount(stratum[first], minlength=sampling_share.size)
        drawn = sampling_share < 1.0
        if (few := count[(count > 0) & (count < LEAST_UNITS_FOR_GAMMA) & drawn]).size:
            counts = {"count": int(few[0]), "least": LEAST_UNITS_FOR_GAMMA}
            raise EstimateError(say("estimate.few_units", **counts))
        size = np.maximum(count, LEAST_UNITS_FOR_GAMMA)
        sizes, place = np.unique(size, return_inverse=True)
        tables = [_lines_of_quantiles((n - 2.0) / n) for n in sizes.tolist()]
        return cls(
            stratum,
            np.sqrt(np.where(drawn, 1.0 - sampling_share, 0.0))[stratum],
            (place * tables[0][0].size).astype(np.int32)[stratum],
            np.concatenate([quantiles for quantiles, _ in tables]),
            np.concatenate([slopes for _, slopes in tables]),
            scipy.sparse.csr_array(
                (1.0 / count[stratum[first]], (stratum[first], first)),
                shape=(count.size, stratum.size),
            ),
        )

    def multipliers(self, exponential: NDArray[np.float32]) -> Numbers:
        """Multipliers of a block of replicates.

        Parameters
        ----------
        exponential
            Shape (n, rows): see `exponentials`; those of one unit equal.

        Returns
        -------
        ndarray
            Shape (n, rows), none negative; the mean over the units of a stratum is 1 in each
            column. All ones where nothing was left to chance, in a stratum whose population
            is in the sample.
        """
        place = np.maximum(exponential.view(np.int32) >> _SHIFT, _FIRST)
        place += self.table[:, None] - _FIRST
        drawn = self.slopes.take(place)
        drawn *= exponential
        drawn += self.quantiles.take(place)
        drawn /= (self.mean @ drawn).take(self.stratum, axis=0)
        if (self.spread == 1.0).all():
            return np.asarray(drawn)
        return np.asarray(1.0 + self.spread[:, None] * (drawn - 1.0))


def exponentials(uniforms: Numbers) -> NDArray[np.float32]:
    """Turn numbers between 0 and 1 into exponential ones, in single precision."""
    drawn = np.empty(uniforms.shape, dtype=np.float32)
    np.subtract(1.0, uniforms, out=drawn, dtype=np.float64, casting="same_kind")
    np.log(drawn, out=drawn)
    return np.asarray(np.negative(drawn, out=drawn))


_SHIFT = 23 - BITS_OF_OCTAVE
_FIRST = int(np.float32(2.0**LEAST_OCTAVE).view(np.int32)) >> _SHIFT
"""Of the 23 bits of a single precision fraction, as many as number the parts stay."""


@lru_cache(maxsize=1024)
def _lines_of_quantiles(shape: float) -> tuple[Numbers, Numbers]:
    """Lines between gamma quantiles over exponential ones: where each begins, and its slope.

    The gamma is near the exponential here, so that its quantile is a smooth function of the
    exponential's, which a line over a part of an octave meets to one part in 10^4. Strata of
    one size come up in round after round, and the inverse is what takes the time.
    """
    octave = np.exp2(np.arange(LEAST_OCTAVE, LEAST_OCTAVE + OCTAVES))
    parts = 1.0 + np.arange(1 << BITS_OF_OCTAVE) / (1 << BITS_OF_OCTAVE)
    grid = np.append(np.outer(octave, parts), 2.0 * octave[-1])
    grid[0] = 0.0  # no exponential is below the first part
    low = grid < 1.0
    of_grid = np.empty_like(grid)
    of_grid[low] = scipy.special.gammaincinv(shape, -np.expm1(-grid[low]))
    of_grid[~low] = scipy.special.gammainccinv(shape, np.exp(-grid[~low]))
    slopes = np.diff(of_grid) / np.diff(grid)
    return of_grid[:-1] - slopes * grid[:-1], slopes
