"""The register of one reporting year: every figure, from the year's estimates."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import polars as pl

from planner import __version__
from planner.figures import FigureRegister, LoadedFile
from planner.messages import paper
from planner.report.disclosure.parts import with_issued_areas
from planner.report.disclosure.times import hidden_areas
from planner.report.figures import CATALOGUE
from planner.report.figures.choices import add_choices, add_worth
from planner.report.figures.comparison import add_earlier, add_own_factors, add_planned
from planner.report.figures.emissions import add_emission_checks, add_emissions
from planner.report.figures.giveaway import (
    add_giveaway,
    add_problems,
    add_quantities,
    add_sites,
    add_targets,
)
from planner.report.figures.money import add_ledger, add_money
from planner.report.figures.present_value import add_present_value
from planner.report.figures.retention import add_curve, add_retention
from planner.report.figures.survey import add_response, add_response_share, add_survey
from planner.report.figures.tonnes import add_castings, add_chain, add_forecast, add_tonnes
from planner.report.figures.weighings import add_audit, add_diaries
from planner.report.figures.writer import Writer
from planner.report.inputs import without_small_counts
from planner.report.year import CountedYear, Year


def register_year(
    year: CountedYear,
    earlier: Iterable[FigureRegister] = (),
    replaced: FigureRegister | None = None,
    planned: FigureRegister | None = None,
    plan_ahead: FigureRegister | None = None,
    issued: Sequence[FigureRegister] = (),
) -> FigureRegister:
    """Register every figure of a reporting year; without tonnes what is counted, and bins in use.

    Together with the figures of the reports of other years, `earlier`, and of every issue so far,
    no small count or change may be found out.

    Parameters
    ----------
    replaced
        Figures of an earlier report of this very year, to name what is restated.
    planned, plan_ahead
        Figures of the plan that was made for the year, and of the plan for the year after it.
    """
    earlier, out = tuple(earlier), writer_of(year)
    privacy, label = year.program.privacy, year.reporting_year.reporting_year
    of_year = [one for one in issued if one.reporting_year == label]
    hidden = hidden_areas(year.counts.areas, privacy, of_year)
    add_giveaway(out, hidden, earlier, issued)
    if isinstance(year, Year):
        add_quantities(out)
        add_targets(out)
        add_tonnes(out, hidden)
        add_retention(out)
        add_forecast(out)
        add_chain(out)
        add_castings(out)
        add_emissions(out)
        add_emission_checks(out)
        add_money(out)
        add_present_value(out)
        add_worth(out, plan_ahead)
        add_choices(out)
        add_survey(out)
        add_response(out)
        add_diaries(out)
    else:
        add_targets(out)
        _add_in_use(out)
        add_ledger(out)
    add_problems(out, of_year)
    add_sites(out)
    if isinstance(year, Year):
        add_audit(out)
        add_own_factors(out)
        add_earlier(out, earlier, replaced)
        add_planned(out, planned)
    told = without_small_counts(out.register, privacy)
    return with_issued_areas(told, issued, year.counts.areas["area_id"])


def _add_in_use(out: Writer) -> None:
    """Add bins in use and who answered, where that is all that can be estimated."""
    found = out.counted.in_use
    if found is not None:
        out.put("bins_in_use", found.bins_in_use[:, -1])
        add_curve(out, found)
        for wave in found.waves:
            add_response_share(out, wave)


def writer_of(year: CountedYear) -> Writer:
    """Open an empty register for a year's figures."""
    files = _files(year)
    register = FigureRegister(
        year.program.council.name,
        year.reporting_year.reporting_year,
        __version__,
        tuple(files),
        year.counts.through_date,
        year.program.method.draws_count,
        year.program.method.seed,
        files,
        paper().language,
    )
    return Writer(register, year, CATALOGUE)


def _files(year: CountedYear) -> dict[str, LoadedFile]:
    """One line a file taken in, its load, name and day; with its digest and tables."""
    file = ("load_id", "file", "loaded_at", "sha256")
    tables = pl.col("table_name").drop_nulls().unique().sort()
    rows = year.counts.loads.group_by(file, maintain_order=True).agg(tables)
    return {
        f"{load_id} {file} ({day:%Y-%m-%d})": LoadedFile(sha256, tuple(tables))
        for load_id, file, day, sha256, tables in rows.iter_rows()
    }
