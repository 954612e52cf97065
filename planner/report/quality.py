"""What the page of data quality is made from."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import polars as pl

NO_LOADS = dt.datetime(2000, 1, 1)
"""Stands for the day of the newest load where there is none."""


@dataclass(frozen=True)
class Quality:
    """Frames of the store about its own records.

    Parameters
    ----------
    loads
        Query loads: files taken in, with what became of their rows.
    refusals
        Query refusals_by_reason.
    waves
        Query wave_response.
    audits
        Query audits_by_arm.
    checks
        Findings of planner.checks, counted by check.
    amounts, totals
        Queries amounts_of_loads and totals_of_loads: the ledger's control totals.
    """

    loads: pl.DataFrame
    refusals: pl.DataFrame
    waves: pl.DataFrame
    audits: pl.DataFrame
    checks: pl.DataFrame
    amounts: pl.DataFrame = field(default_factory=pl.DataFrame)
    totals: pl.DataFrame = field(default_factory=pl.DataFrame)

    @property
    def newest(self) -> dt.datetime:
        """When the newest file was taken in, which dates the report."""
        newest = self.loads["loaded_at"].max() if self.loads.height else None
        return newest.replace(tzinfo=None) if isinstance(newest, dt.datetime) else NO_LOADS
