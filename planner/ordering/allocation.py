"""Bins by model of an allocation that was planned, where there is one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.errors import OrderError

if TYPE_CHECKING:
    from pathlib import Path

ALLOCATION_FILE = "sizing/allocation.csv"
COLUMNS = ("model_id", "bins")


def read_allocated(folder: Path) -> dict[str, float]:
    """Sum the bins of each model in the allocation of `planner size`; empty without one.

    Raises
    ------
    OrderError
        The file is there and cannot be read as an allocation.
    """
    path = folder / ALLOCATION_FILE
    if not path.exists():
        return {}
    try:
        rows = pl.read_csv(path).select(COLUMNS).group_by("model_id").agg(pl.col("bins").sum())
    except (pl.exceptions.PolarsError, OSError) as error:
        message = f"{path}: cannot be read as an allocation. Run `planner size` again."
        raise OrderError(message, path=str(path)) from error
    return {str(model): float(bins) for model, bins in rows.iter_rows()}
