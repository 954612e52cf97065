"""Share of the households that take each bin model."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.errors import OrderError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from planner.program import Program


def model_shares(
    program: Program, handed: pl.DataFrame, allocated: Mapping[str, float]
) -> tuple[dict[str, float], list[str]]:
    """Share of households that take each bin model, and where it comes from.

    The program file comes first, then an allocation, then what was handed over so far;
    where there is none of these, every model alike.

    Parameters
    ----------
    program
        The program file.
    handed
        Rows of the query handovers_by_month.
    allocated
        Bins by model of an allocation; empty where there is none.

    Raises
    ------
    OrderError
        The program file gives a share to a model that it does not have.
    """
    models = [model.model_id for model in program.bin_models]
    given = program.ordering.model_shares
    unknown = [model for model in given if model not in models]
    if unknown:
        message = (
            f"program.toml: ordering.model_shares names {unknown[0]}, which is no bin model. "
            f"There are {', '.join(models)}."
        )
        raise OrderError(message)
    if given:
        return _shares(dict(given)), ["Shares of the bin models are those of program.toml."]
    if sum(allocated.get(model, 0.0) for model in models):
        shares = {model: allocated.get(model, 0.0) for model in models}
        return _shares(shares), ["Shares of the bin models are those of `planner size`."]
    so_far = dict(handed.group_by("model_id").agg(pl.col("bins_given").sum()).iter_rows())
    if any(so_far.get(model) for model in models):
        shares = {model: float(so_far.get(model, 0)) for model in models}
        return _shares(shares), ["Shares of the bin models are those handed over so far."]
    note = "Nothing was handed over yet: every bin model is taken alike."
    return _shares(dict.fromkeys(models, 1.0)), [note] if len(models) > 1 else []


def _shares(weights: dict[str, float]) -> dict[str, float]:
    total = sum(weights.values())
    return {model: weight / total for model, weight in weights.items() if weight > 0.0}


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
