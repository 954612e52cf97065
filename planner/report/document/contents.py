"""What a report is made from: the register, the program file, and the list of its records."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from planner.report.document.model import Picture
from planner.report.document.saying import Saying
from planner.report.targets import verdict
from planner.report.wording import Wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl

    from planner.factors import FactorTable
    from planner.figures import Figure, FigureRegister
    from planner.program import Program, ReportingYear
    from planner.report.charts import Chart
    from planner.report.issues import Issue
    from planner.report.quality import Quality
    from planner.report.wording import Result

ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Contents:
    """Everything that may be said.

    Parameters
    ----------
    register
        Every figure.
    program
        Locale, currency, method and the threshold of small counts.
    factor_table
        Citations of the factors that the figures name.
    area_names
        Name of each area by area_id.
    quality
        What the store knows about its own records.
    charts
        Charts that are drawn, with their findings and words.
    issues, issue
        Reports given out before, and this one as it is given out; None for a draft.
    restated
        What reads otherwise than in the issue before, as `planner.report.restatement` finds it.
    """

    register: FigureRegister
    program: Program
    factor_table: FactorTable
    area_names: Mapping[str, str]
    quality: Quality
    charts: Sequence[Chart] = ()
    issues: Sequence[Issue] = ()
    issue: Issue | None = None
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

    def result(self, figure_id: str) -> Result | None:
        """Judge a figure against its target; None where either is not there or the year runs."""
        target = f"{figure_id}_target"
        if not self.saying.knows(figure_id, target):
            return None
        return verdict(self.register, figure_id, self.saying.value(target))

    def pictures(self, section: str) -> tuple[Picture, ...]:
        """Find the charts of a section, in order."""
        return tuple(
            Picture(
                chart.path_png.stem,
                chart.title,
                chart.caption,
                chart.alt_text,
                chart.path_png.read_bytes(),
                chart.path_svg.read_bytes(),
                chart.narrow_svg,
                chart.spots,
                chart.narrow_spots,
            )
            for chart in self.charts
            if chart.section == section
        )

    def figures(self, prefix: str) -> dict[str, Figure]:
        """Find the parts of a figure, by name."""
        return self.register.parts(prefix)
