"""Figures of reported feed: what reports weigh, how round they are, what outliers would do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.disclosure import is_small
from planner.report.inputs import of_factors, of_query

if TYPE_CHECKING:
    from planner.figures import FigureRegister, Input
    from planner.report.year import Year
    from planner.survey.feed import UnitCalibration

GRID_WORDS = {
    "half_kg": ("half kilograms", "tenths of a kilogram"),
    "whole_litre": ("whole litres", "tenths of a litre"),
    "five_litre": ("fives of litres", "whole litres"),
}


def add_reported_feed(register: FigureRegister, year: Year) -> None:
    """Add the figures of reported feed."""
    _add_calibration(register, year)
    _add_heaping(register, year)
    _add_run_in(register, year)
    register.add_exact(
        "winsorised_feed_change",
        "What bringing in the largest and smallest reports changed the feed by",
        year.diversion.reported.change_share,
        "share",
        "In each round and unit with ten reports above nothing the largest is set to the second "
        "largest and the smallest to the second smallest, so that no single report decides.",
        (of_query("followup_answers", year.counts.followup),),
    )


def _add_calibration(register: FigureRegister, year: Year) -> None:
    calibration = year.diversion.calibration
    pairs = of_query("diary_pairs", year.counts.diaries)
    for name, label, draws, line, factor_ids in (
        (
            "weighed_kg_per_reported_kg",
            "What a reported kilogram weighs",
            calibration.of_kg.kg_per_unit,
            calibration.of_kg,
            ("self_report_multiplier",),
        ),
        (
            "weighed_kg_per_reported_litre",
            "What a reported litre weighs",
            calibration.of_litres.kg_per_unit,
            calibration.of_litres,
            ("self_report_multiplier", "caddy_density_kg_per_litre"),
        ),
    ):
        register.add_draws(
            name,
            label,
            draws,
            "kg",
            _calibration_method(year, line),
            (pairs, *_factors_unless_weighed(year, line.basis, factor_ids)),
        )


def _calibration_method(year: Year, line: UnitCalibration) -> str:
    threshold = year.program.privacy.small_cell_threshold
    few = is_small(line.pairs_count, threshold)
    count = f"fewer than {threshold}" if few else f"{line.pairs_count:,}"
    words = f"From {line.basis}: {count} diary households reported in this unit."
    if line.basis != "own weighings":
        return f"{words} With ten or more their own weighings are used."
    chosen = (
        f"Regression, {line.intercept:.2f} kg + {line.slope:.2f} × what is reported, as the "
        "line through thirty pairs or more clearly misses the origin; the figure is what it "
        "gives over all that was reported, and rounds and dwellings take theirs in proportion."
        if line.estimator == "regression"
        else "Ratio of weighed to reported, as fewer than thirty pairs or a line that does not "
        "clearly miss the origin speak for no other."
    )
    return (
        f"{words} {chosen} Double sampling: the interval is that of both the survey and the "
        f"diaries. Squared correlation of weighed and reported: {line.correlation_squared:.2f}."
    )


def _factors_unless_weighed(
    year: Year, basis: str, factor_ids: tuple[str, ...]
) -> tuple[Input, ...]:
    """Name the published factors that a calibration rests on; its own weighings need none."""
    if basis == "own weighings":
        return ()
    used = [factor for factor in year.feed_factors if factor.factor_id in factor_ids]
    return of_factors(year.factor_table, used)


def _add_heaping(register: FigureRegister, year: Year) -> None:
    for name, found in year.diversion.reported.heaping.items():
        if is_small(found.reports_count, year.program.privacy.small_cell_threshold):
            continue
        grid, within = GRID_WORDS[name]
        register.add_draws(
            f"heaping_index[{name}]",
            f"Reports on {grid} over those expected there by chance",
            found.index,
            "ratio",
            f"Of the reports above nothing written to {within}, the weighted share on {grid} over "
            f"the {found.expected_share:.0%} that chance would put there: 1 is no rounding. "
            "Rounding up and down about even out in a mean; the diaries take out what is left.",
            (of_query("followup_answers", year.counts.followup),),
        )


def _add_run_in(register: FigureRegister, year: Year) -> None:
    """Add how far young bins take more or less than the published run-in says."""
    fit = year.diversion.run_in
    threshold = year.program.privacy.small_cell_threshold
    if not fit.is_known or is_small(fit.young_count, threshold):
        return
    register.add_draws(
        "run_in_surveyed_to_modelled",
        "Feed of bins in their first three months, surveyed over modelled, against settled bins",
        fit.ratio,
        "ratio",
        f"Same rounds, same weights; {fit.young_count:,} answers of young bins and "
        f"{fit.settled_count:,} of settled ones. The model's run-in is scaled by it.",
        (of_query("followup_answers", year.counts.followup),),
    )
