"""The register of one reporting year: every figure, from the year's estimates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner import __version__
from planner.figures import FigureRegister
from planner.report.audit_figures import add_audit
from planner.report.by_year_figures import add_by_year
from planner.report.cobenefit_figures import add_cobenefits
from planner.report.diversion_figures import add_diversion
from planner.report.earlier_figures import add_earlier
from planner.report.emissions_figures import add_emissions
from planner.report.gross_to_net_figures import add_gross_to_net
from planner.report.inputs import without_small_counts
from planner.report.money_figures import add_money
from planner.report.own_factor_figures import add_own_factors
from planner.report.quantity_figures import add_quantities
from planner.report.survey_figures import add_survey
from planner.report.target_figures import add_targets

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.report.year import Year


def register_year(
    year: Year, earlier: Iterable[FigureRegister] = (), replaced: FigureRegister | None = None
) -> FigureRegister:
    """Register every figure of a reporting year.

    Parameters
    ----------
    year
        What was counted and estimated.
    earlier
        Figures of the reports of other years: together with them, too, no small count may
        be found out.
    replaced
        Figures of an earlier report of this very year, to name what is restated.
    """
    earlier = tuple(earlier)
    register = FigureRegister(
        year.program.council.name,
        year.reporting_year.reporting_year,
        __version__,
        tuple(_load_lines(year)),
        year.counts.through_date,
        year.program.method.draws_count,
        year.program.method.seed,
    )
    add_diversion(register, year, earlier)
    add_emissions(register, year)
    add_quantities(register, year)
    add_money(register, year)
    add_by_year(register, year)
    add_gross_to_net(register, year)
    add_cobenefits(register, year)
    add_survey(register, year)
    add_audit(register, year)
    add_targets(register, year)
    add_own_factors(register, year)
    add_earlier(register, year, earlier, replaced)
    return without_small_counts(register, year.program.privacy)


def _load_lines(year: Year) -> list[str]:
    """One line a file taken in: its load, name and day."""
    rows = year.loads.select("load_id", "file", "loaded_at").unique(maintain_order=True)
    return [f"{load_id} {file} ({day:%Y-%m-%d})" for load_id, file, day in rows.iter_rows()]
