"""Weights drawn in a survey round, in memory or, where they are too many, in a file."""

from __future__ import annotations

import mmap
import tempfile
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Any

import numpy as np

from planner.errors import StoreError
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

    def add(self, weights: NDArray[np.float64]) -> None:
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
