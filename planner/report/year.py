"""The year: everything estimated for one reporting year, before it is said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

    from planner.diversion.counts import Counts
    from planner.diversion.measured import Diversion
    from planner.emissions.account import EmissionsAvoided
    from planner.factors import Factor, FactorTable
    from planner.money import ProgramCost
    from planner.program import Program, ReportingYear


@dataclass(frozen=True)
class Year:
    """Records, estimates and factors of one reporting year.

    Parameters
    ----------
    program, reporting_year
        The program file and its block of the year.
    counts
        What the store counts.
    diversion, emissions, cost
        What was estimated.
    factor_table
        Every published factor.
    feed_factors, emission_factors
        Those that the estimates used.
    loads
        Query loads_in_store: the files behind the records.
    """

    program: Program
    reporting_year: ReportingYear
    counts: Counts
    diversion: Diversion
    emissions: EmissionsAvoided
    cost: ProgramCost
    factor_table: FactorTable
    feed_factors: tuple[Factor, ...]
    emission_factors: tuple[Factor, ...]
    loads: pl.DataFrame
