"""Figures of bins, feed and landfill: for the year, to date, by area and by month."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.figures import Figure, FigureRegister, Input
from planner.report.disclosure import HIDDEN, hidden_areas
from planner.report.inputs import of_factors, of_figures, of_key, of_query
from planner.report.month_figures import add_bins_given, add_months
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from planner.factors import Factor
    from planner.report.year import Year

FED = (
    "Households given a bin × share in use at their age × share of the full feed that the "
    "worms take × surveyed feed of an in-use bin, calibrated on weighed diaries, summed over "
    "months and scaled to pass through each survey round."
)
KEPT_OUT = (
    "Scraps fed × share that went to the residual bin before × share of residual waste "
    "that is landfilled. What went elsewhere before is not counted."
)
IN_USE = (
    "Households given a bin, each counted once, × share in use at their age, from follow-up "
    "answers and bins known to have come back."
)
OF_AREA = (
    "The area's households count as the town's of the same dwelling; its interval also holds "
    "the chance of few households and a stated spread between areas."
)
NOTHING_FED = "No scraps were fed here."


def add_diversion(
    register: FigureRegister, year: Year, earlier: Iterable[FigureRegister] = ()
) -> None:
    """Add the figures of bins, feed and landfill; earlier ones are of other years' reports."""
    add_bins_given(register, year, earlier)
    _add_bins(register, year)
    _add_tonnes(register, year)
    _add_areas(register, year)
    add_months(register, year)


def _add_bins(register: FigureRegister, year: Year) -> None:
    diversion = year.diversion
    at_end = diversion.bins_in_use.sum(axis=1)[:, -1]
    register.add_draws(
        "bins_in_use", "Bins in use at the end of the year", at_end, "bins", IN_USE, _given(year)
    )
    whole = diversion.in_use_bin_weeks.sum(axis=1)[:, _in_year(year)].sum(axis=1)
    register.add_draws(
        "in_use_bin_weeks",
        "Weeks in use of all bins in the year",
        whole,
        "bin-weeks",
        IN_USE,
        _given(year),
    )


def _add_tonnes(register: FigureRegister, year: Year) -> None:
    diversion, months = year.diversion, _in_year(year)
    fed = diversion.fed_kg.sum(axis=1) / KG_PER_T
    kept_out = diversion.kept_out_kg.sum(axis=1) / KG_PER_T
    fed_inputs = (*of_figures("in_use_bin_weeks", "feed_kg_per_bin_week"), *_given(year))
    kept_inputs = of_figures("fed_t", "landfill_share")
    in_year = fed[:, months].sum(axis=1)
    bin_weeks = diversion.in_use_bin_weeks.sum(axis=1)[:, months].sum(axis=1)
    register.add_draws(
        "feed_kg_per_bin_week",
        "Food scraps fed to an in-use bin",
        in_year * KG_PER_T / bin_weeks,
        "kg a week",
        "Scraps fed in the year over the weeks that bins were in use.",
        _feed_inputs(year),
    )
    register.add_draws(
        "fed_t", "Food scraps fed to bins in the year", in_year, "t", FED, fed_inputs
    )
    landfilled = kept_out[:, months].sum(axis=1)
    register.add_draws(
        "landfill_share",
        "Share of the scraps that was landfilled before",
        landfilled / in_year,
        "share",
        "Prior residual-bin share of each area and dwelling, weighted by the scraps fed there, × "
        "share of residual waste that is landfilled.",
        _share_inputs(year),
    )
    register.add_draws(
        "kept_out_of_landfill_t",
        "Food scraps kept out of landfill in the year",
        landfilled,
        "t",
        KEPT_OUT,
        kept_inputs,
    )
    register.add_draws(
        "moved_from_other_routes_t",
        "Food scraps moved from other routes in the year",
        in_year - landfilled,
        "t",
        "Scraps fed less scraps kept out of landfill: they were "
        "composted, collected, fed to animals or burnt before.",
        kept_inputs,
    )
    register.add_draws(
        "fed_to_date_t",
        "Food scraps fed to bins to date",
        fed.sum(axis=1),
        "t",
        FED,
        (*_given(year), *_feed_inputs(year)),
    )
    register.add_draws(
        "kept_out_of_landfill_to_date_t",
        "Food scraps kept out of landfill to date",
        kept_out.sum(axis=1),
        "t",
        KEPT_OUT,
        (*of_figures("fed_to_date_t"), *_share_inputs(year)),
    )


def _add_areas(register: FigureRegister, year: Year) -> None:
    hidden = hidden_areas(year.counts.areas, year.program.privacy)
    kept_out = year.areas.kept_out_kg / KG_PER_T
    fed = year.areas.fed_kg / KG_PER_T
    given = year.counts.areas.select("area_id", "area_name", "bins_given_in_year")
    inputs = (of_query("bins_by_area", year.counts.areas),)
    for place, (area_id, name, bins_given) in enumerate(given.iter_rows()):
        shown = area_id not in hidden
        quantities: tuple[tuple[str, str, NDArray[np.float64], str, str], ...] = (
            (
                "bins_in_use",
                "bins in use at the end of the year",
                year.areas.bins_in_use[:, place],
                "bins",
                f"{IN_USE} {OF_AREA}",
            ),
            ("fed_t", "food scraps fed", fed[:, place], "t", f"{FED} {OF_AREA}"),
            (
                "landfill_share",
                "share landfilled before",
                year.areas.landfill_share[:, place],
                "share",
                f"From {_share_basis(year, place)}.",
            ),
            (
                "kept_out_of_landfill_t",
                "food scraps kept out of landfill",
                kept_out[:, place],
                "t",
                f"{KEPT_OUT} {OF_AREA}",
            ),
        )
        register.add_exact(
            f"bins_given[{area_id}]",
            f"{name}: bins given in the year",
            float(bins_given) if shown else None,
            "bins",
            "Counted in the register." if shown else HIDDEN,
            inputs,
        )
        for figure_id, label, draws, unit, method in quantities:
            part, words = f"{figure_id}[{area_id}]", f"{name}: {label}"
            if not shown:
                register.add(Figure(part, words, None, None, None, unit, HIDDEN))
            elif np.isnan(draws[0]):
                register.add(Figure(part, words, None, None, None, unit, NOTHING_FED))
            else:
                register.add_draws(part, words, draws, unit, method, of_figures(figure_id))


def _share_basis(year: Year, place: int) -> str:
    return "; ".join(year.diversion.routes.basis[place])


def _in_year(year: Year) -> slice:
    return year.diversion.cohorts.months_from(year.counts.from_date)


def _given(year: Year) -> tuple[Input, ...]:
    return (
        of_query("handovers_by_month", year.counts.handovers),
        *of_figures("retention_12_months"),
    )


def _feed_inputs(year: Year) -> tuple[Input, ...]:
    return (
        of_query("followup_answers", year.counts.followup),
        of_query("diary_pairs", year.counts.diaries),
        *of_figures("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre"),
        *of_factors(year.factor_table, _not_of_reports(year)),
        of_key("climate.monthly_mean_temperature_c", "12 monthly means"),
    )


def _not_of_reports(year: Year) -> list[Factor]:
    """Feed factors but those of the calibration, which its own figures name."""
    of_reports = ("self_report_multiplier", "caddy_density_kg_per_litre")
    return [factor for factor in year.feed_factors if factor.factor_id not in of_reports]


def _share_inputs(year: Year) -> tuple[Input, ...]:
    landfill = year.program.landfill
    return (
        of_query("prior_shares", year.counts.priors),
        of_key(
            "landfill.landfilled_share_of_residual_waste",
            landfill.landfilled_share_of_residual_waste,
        ),
    )
