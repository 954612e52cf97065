"""What a report is made from: register, program file and list of records; tables of its figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import polars as pl

from planner.figures import Figure, FigureRegister
from planner.report.document import Picture, Statement, Table
from planner.report.document.saying import Saying, table
from planner.report.figures import rows_of
from planner.report.targets import Result, verdict
from planner.report.wording import Wording
from planner.units import ONE_DAY

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.program import Program, ReportingYear
    from planner.report.issues import Issue

KEPT_OUT = "kept_out_of_landfill_t"
NO_LOADS = dt.datetime(2000, 1, 1)
"""Stands for the day of the newest load where there is none."""


@dataclass(frozen=True)
class Quality:
    """Frames of the store about its own records."""

    loads: pl.DataFrame  # query loads: files taken in, with what became of their rows
    refusals: pl.DataFrame  # query refusals_by_reason
    waves: pl.DataFrame  # query wave_response
    audits: pl.DataFrame  # query audits_by_arm
    checks: pl.DataFrame  # findings of planner.checks, counted by check
    # queries amounts_of_loads and totals_of_loads: the ledger's control totals
    amounts: pl.DataFrame = field(default_factory=pl.DataFrame)
    totals: pl.DataFrame = field(default_factory=pl.DataFrame)

    @property
    def newest(self) -> dt.datetime:
        """When the newest file was taken in, which dates the report."""
        newest = self.loads["loaded_at"].max() if self.loads.height else None
        return newest.replace(tzinfo=None) if isinstance(newest, dt.datetime) else NO_LOADS


@dataclass(frozen=True)
class Contents:
    """Everything that may be said."""

    register: FigureRegister  # every figure
    program: Program  # locale, currency, method and the threshold of small counts
    factor_table: FactorTable  # citations of the factors that the figures name
    area_names: Mapping[str, str]  # name of each area by area_id
    quality: Quality  # what the store knows about its own records
    charts: Sequence[Picture] = ()  # charts that are drawn, with their findings and words
    # reports given out before, and this one as it is given out; None for a draft
    issues: Sequence[Issue] = ()
    issue: Issue | None = None
    # what reads otherwise than in the issue before, as `planner.report.restatement` finds it
    restated: pl.DataFrame | None = None

    @cached_property
    def saying(self) -> Saying:
        """Makes statements of the register."""
        return Saying(self.register, Wording.of(self.program))

    @property
    def label(self) -> str:
        """The reporting year."""
        return self.register.reporting_year

    @property
    def has_tonnes(self) -> bool:
        """Whether tonnes are estimated, and not only what can be counted."""
        return KEPT_OUT in self.register

    @property
    def block(self) -> ReportingYear:
        """The program file's block of the year."""
        return self.program.year(self.label)

    @property
    def months(self) -> tuple[dt.date, dt.date]:
        """First and last day that the year has."""
        start, end = self.program.months(self.label)
        return start, end - ONE_DAY

    @property
    def is_running(self) -> bool:
        """Whether the year is not over in the records."""
        return bool(self.register.through_date)

    @property
    def through(self) -> str:
        """Last day that the figures of a running year cover, in words."""
        return self.saying.wording.day(dt.date.fromisoformat(self.register.through_date))

    def result(self, figure_id: str) -> Result | None:
        """Judge a figure against its target; None where either is not there or the year runs."""
        target = f"{figure_id}_target"
        if not self.saying.knows(figure_id, target):
            return None
        return verdict(self.register, figure_id, self.saying.value(target))

    def pictures(self, section: str) -> tuple[Picture, ...]:
        """Find the charts of a section, in order."""
        return tuple(one for one in self.charts if one.section == section)

    def known(self, prefix: str) -> list[str]:
        """Name the parts of a figure that are shown."""
        return [name for name in self.figures(prefix) if self.saying.knows(f"{prefix}[{name}]")]

    def figures(self, prefix: str) -> dict[str, Figure]:
        """Find the parts of a figure, by name."""
        return self.register.parts(prefix)


INTERVAL = "report.interval"
HEADINGS = ("report.what", "report.result", INTERVAL, "report.unit")


def figure_table(
    contents: Contents,
    key: str,
    caption: str,
    *,
    headings: Sequence[str] = HEADINGS,
    leaves_out: Sequence[str] = (),
    note: str = "",
) -> Table:
    """Make a table with a row a figure: what it is, result, interval, unit.

    Where no figure has a unit, neither has the table a column of units. It holds what the figures
    declare for its key, but for those that it `leaves_out` this time.
    """
    saying = contents.saying
    rows = [
        (
            Statement((words or contents.register[name].label,)),
            *saying.cells(name),
            saying.unit(name),
        )
        for name, words in rows_of(key).items()
        if name in contents.register and name not in leaves_out
    ]
    width = len(HEADINGS) if any(row[-1].words for row in rows) else len(HEADINGS) - 1
    cut = [row[:width] for row in rows]
    return table(key, caption, headings[:width], cut, numbers=(1, 2), note=note)


def parts_table(
    contents: Contents,
    key: str,
    caption: str,
    heading: str,
    rows: Mapping[str, str],
    *,
    note: str = "",
) -> Table:
    """Make a table with a row a part, as an area or a month, and a column a figure.

    The figures are those declared for its key that are there, the rows words of each part by its
    name. The interval is that of the last column; where there is none, neither is its column.
    """
    saying = contents.saying
    declared = {name.partition("[")[0]: words for name, words in rows_of(key).items()}
    columns = {name: words for name, words in declared.items() if contents.figures(name)}
    last = list(columns)[-1]
    cells = [
        (
            Statement((words,)),
            *(saying.cell(f"{name}[{part}]") for name in columns),
            saying.cell(f"{last}[{part}]", "spread"),
        )
        for part, words in rows.items()
    ]
    width = len(columns) + 1 + any(row[-1].words for row in cells)
    headings = (heading, *columns.values(), INTERVAL)[:width]
    cut = [row[:width] for row in cells]
    return table(key, caption, headings, cut, numbers=range(1, width), note=note)
