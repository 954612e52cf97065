"""How well what stands below a heading fits a column."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.cells import parsed
from planner.intake.meaning import folded_text, unit_of
from planner.intake.readings import read_again
from planner.intake.rows import HOUSEHOLD, NAME_SIGNS
from planner.tables import TABLES, references

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.intake.meaning import Unit
    from planner.intake.rows import Context

_SAMPLED_TEXTS = 60


def values_tell(table: str, column: str, known: Mapping[str, pl.DataFrame]) -> bool:
    """Tell whether values alone may show the column: codes, and keys that are known."""
    if isinstance(TABLES[table].columns()[column], dy.Enum):
        return True
    target = references(table).get(column, "")
    return target in known and not known[target].is_empty()


def share_that_fits(
    values: pl.Series,
    table: str,
    column: str,
    context: Context,
    known: Mapping[str, pl.DataFrame],
    unit: Unit | None,
    has_number_cells: bool,
) -> float:
    """Share of the values that the column could hold; 0.5 where there are none to judge by."""
    texts = values.drop_nulls().unique(maintain_order=True).head(_SAMPLED_TEXTS).alias(column)
    if texts.is_empty():
        return 0.5
    target = references(table).get(column, "")
    if target in known and not known[target].is_empty():
        folds = texts.to_frame().select(folded_text(pl.col(column))).to_series()
        return _share(folds.is_in(known[target]["fold"].implode()))
    declared = TABLES[table].columns()[column]
    if isinstance(declared, dy.String):
        fit = _text_fit(values, declared, TABLES[table].primary_key() == [column])
        # whom a row is about may be a name, but no household is known by one
        return fit * (1.0 - _share(texts.str.contains(NAME_SIGNS))) if column == HOUSEHOLD else fit
    if unit is not None and unit.column_unit != unit_of(table, column):
        return 0.0
    worded = texts.to_frame().select(context.vocabulary.read(column).alias(column))
    read = worded.select(
        parsed(table, column, context.country, has_number_cells=has_number_cells).alias("read")
    )["read"]
    if unit is not None and not unit.is_of_column:
        read = pl.Series("read", [None] * len(read), read.dtype)
    again = read_again(
        worded.filter(read.is_null())[column],
        table,
        column,
        context.country,
        context.currency,
        unit,
    )
    read = pl.concat([read.drop_nulls(), again["value"].cast(read.dtype)])
    if isinstance(declared, dy.Float64 | dy.Int64 | dy.Date):
        low, high = declared.min, declared.max
        fits = pl.repeat(value=True, n=read.len(), eager=True)
        fits &= (read >= low).fill_null(False) if low is not None else True
        fits &= (read <= high).fill_null(False) if high is not None else True
        return int(fits.sum()) / texts.len()
    return read.len() / texts.len()


def _share(flags: pl.Series) -> float:
    return int(flags.sum()) / max(flags.len(), 1)


def _text_fit(values: pl.Series, declared: dy.String, is_key: bool) -> float:
    """Rate a column of free text or keys: of that length, no numbers with a fraction, no dates."""
    texts = values.drop_nulls()
    is_measure = texts.str.contains(r"^\d+[.,]\d+|^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")
    is_long = texts.str.len_chars() > (declared.max_length or 0)
    fit = 1.0 - _share(is_measure | is_long)
    if not is_key:
        return (0.9 if declared.primary_key else 0.8) * fit
    return fit * float(texts.n_unique() / texts.len())
