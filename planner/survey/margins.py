"""Known counts of households to which weights are made to add up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.survey.linearisation import summed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Codes = NDArray[np.int64]

_AGREEMENT = 1e-6
"""Margins of whole households that differ by more than rounding do not agree."""


@dataclass(frozen=True)
class Margin:
    """Known counts of one way to divide the households.

    Parameters
    ----------
    name
        What divides them, as "area and dwelling".
    cell
        Shape (n,): cell of each answer, numbered from 0.
    labels
        Names of the cells.
    counts
        Shape (cells,): households that are known to be in each.
    """

    name: str
    cell: Codes
    labels: tuple[str, ...]
    counts: Numbers

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
        name = " and ".join(columns)
        lost = placed.filter(pl.col("cell").is_null())
        if not lost.is_empty():
            message = f"{name}: an answer lies in {lost['label'][0]}, of which no count is known"
            raise EstimateError(message)
        return cls(
            name,
            placed["cell"].cast(pl.Int64).to_numpy(),
            tuple(cells["label"]),
            cells["households_count"].cast(pl.Float64).to_numpy(),
        )

    def factors(self, weights: Numbers) -> Numbers:
        """Factor by which the weights of each cell miss its count, shape (cells,).

        Raises
        ------
        EstimateError
            A cell with households has no answer, or one with answers has no household.
        """
        found = summed(self.cell, weights, self.counts.size)
        for cells, fault in (
            (
                (self.counts > 0.0) & (found <= 0.0),
                "has households and no answer; put it together with another",
            ),
            (
                (self.counts <= 0.0) & (found > 0.0),
                "has answers and no household; correct its count",
            ),
        ):
            if cells.any():
                message = f"{self.name}: {self.labels[int(np.argmax(cells))]} {fault}"
                raise EstimateError(message)
        return np.divide(self.counts, found, out=np.ones_like(found), where=found > 0.0)

    def worst(self, weights: Numbers) -> tuple[float, str]:
        """Largest relative error of a cell, and its name."""
        found = summed(self.cell, weights, self.counts.size)
        error = np.abs(found - self.counts) / np.where(self.counts > 0.0, self.counts, 1.0)
        return float(error.max()), self.labels[int(np.argmax(error))]


def scaled_to(margin: Margin, households: float) -> Margin:
    """Keep the mix of a margin and let it add up to a number of households.

    Examples
    --------
    >>> margin = Margin("area", np.array([0, 1]), ("N", "S"), np.array([8.0, 2.0]))
    >>> scaled_to(margin, 5.0).counts.tolist()
    [4.0, 1.0]
    """
    return replace(margin, counts=margin.counts * (households / margin.counts.sum()))


def check_agreement(margins: Sequence[Margin]) -> None:
    """Refuse margins that do not add up to the same number of households.

    Raises
    ------
    EstimateError
        Two of them disagree; the message names them.
    """
    sums = [float(margin.counts.sum()) for margin in margins]
    most, least = int(np.argmax(sums)), int(np.argmin(sums))
    if sums[most] - sums[least] > _AGREEMENT * sums[most]:
        message = (
            f"margins disagree: {margins[most].name} adds up to {sums[most]:,.6g} households "
            f"and {margins[least].name} to {sums[least]:,.6g}"
        )
        raise EstimateError(message)
