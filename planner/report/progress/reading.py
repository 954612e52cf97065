"""What progress needs beyond the figures: hand-over days, stock, the open round, what is due."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.store import open_store

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import polars as pl


@dataclass(frozen=True)
class Field:
    """Rows of the records as they stand.

    Parameters
    ----------
    turnout
        Query turnout_by_event: who came and who did not, by day held.
    coming
        Query upcoming_events: days to come in the year.
    stock
        Query stock_reconciled.
    """

    turnout: pl.DataFrame
    coming: pl.DataFrame
    stock: pl.DataFrame


def read_field(folder: Path, before_date: dt.date, end_date: dt.date) -> Field:
    """Read the rows up to a day, and the days to come up to the year's end.

    Parameters
    ----------
    folder
        Program folder.
    before_date
        First day that is not recorded.
    end_date
        First day after the year.
    """
    with open_store(folder, read_only=True) as store:
        return Field(
            store.query("turnout_by_event", before_date=before_date),
            store.query("upcoming_events", from_date=before_date, before_date=end_date),
            store.query("stock_reconciled", as_of=before_date),
        )
