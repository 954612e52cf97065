"""Distances between the stops of a round that somebody has measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import IntakeError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

COLUMNS = ("from_stop", "to_stop", "km")
START_WORD = "start"


def given_distances(path: Path, stop_ids: list[str]) -> NDArray[np.float64]:
    """Read the distances between all stops of a round [km].

    Parameters
    ----------
    path
        CSV file with from_stop, to_stop and km: codes of drop points or households, and the
        word start. A way that is given in one direction counts for both.
    stop_ids
        Stops in order; one may stand there twice, where it takes more than one load.

    Returns
    -------
    ndarray
        Shape (1 + stops, 1 + stops), the start first.

    Raises
    ------
    IntakeError
        The file cannot be read, or a way is missing or no length.
    """
    try:
        read = pl.read_csv(path, columns=list(COLUMNS), schema_overrides={"km": pl.Float64})
    except (pl.exceptions.PolarsError, OSError) as error:
        message = (
            f"{path}: cannot be read as distances ({str(error).splitlines()[0]}). Write a CSV "
            f"file with the columns {', '.join(COLUMNS)}."
        )
        raise IntakeError(message, path=str(path)) from error
    rows = read.with_columns(pl.col("from_stop", "to_stop").cast(pl.String))
    wrong = rows.filter(~(pl.col("km") >= 0.0).fill_null(value=False) | pl.col("km").is_infinite())
    if wrong.height:
        first = wrong.row(0, named=True)
        message = (
            f"{path}, km from {first['from_stop']} to {first['to_stop']}: found {first['km']}, "
            "expected a number of kilometres. Correct it."
        )
        raise IntakeError(message, path=str(path))
    back = rows.select(from_stop="to_stop", to_stop="from_stop", km="km")
    ways = pl.concat([rows, back]).unique(["from_stop", "to_stop"], keep="first")
    names = [START_WORD, *stop_ids]
    places = pl.DataFrame({"name": names}).with_row_index("place")
    pairs = (
        places.select(one="place", from_stop="name")
        .join(places.select(other="place", to_stop="name"), how="cross")
        .join(ways, on=["from_stop", "to_stop"], how="left")
        .with_columns(
            pl.when(pl.col("from_stop") == pl.col("to_stop")).then(0.0).otherwise("km").alias("km")
        )
        .sort("one", "other")
    )
    missing = pairs.filter(pl.col("km").is_null() & (pl.col("one") < pl.col("other")))
    if missing.height:
        first = missing.row(0, named=True)
        message = (
            f"{path}: {missing.height:,} ways are missing, the first from {first['from_stop']} to "
            f"{first['to_stop']}. Add a row for each, or leave --distances out."
        )
        raise IntakeError(message, path=str(path))
    return np.asarray(pairs["km"].to_numpy()).reshape(len(names), len(names))
