"""Figures of bins, feed and landfill by month, and of bins given; small counts are hidden."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.measured import RESIDUAL_BIN
from planner.figures import Figure, FigureRegister, Input, interval
from planner.program import label_of_date
from planner.report.disclosure import (
    HIDDEN,
    Seen,
    hidden_households,
    hidden_times,
    is_small,
    seen_in,
)
from planner.report.inputs import of_figures, of_query
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from planner.diversion.measured import Diversion
    from planner.report.year import Year

COUNTED = "Counted in the register."


def add_bins_given(register: FigureRegister, year: Year, earlier: Iterable[FigureRegister]) -> None:
    """Add the counts of bins and households, in the year, to date and by month.

    Parameters
    ----------
    register
        Takes the figures.
    year
        Estimates of the year.
    earlier
        Figures of the reports of other years, which show some of the same counts.
    """
    reports = tuple(earlier)
    hidden = _hidden(year, seen_in(reports)) | _hidden_households(year, reports)
    areas, label = year.counts.areas, year.reporting_year.reporting_year
    by_area = (of_query("bins_by_area", areas),)
    for name, words, column, unit in (
        ("bins_given", "Bins given in the year", "bins_given_in_year", "bins"),
        ("bins_given_to_date", "Bins given to date", "bins_given_to_date", "bins"),
        (
            "households_served",
            "Households served in the year",
            "households_served_in_year",
            "households",
        ),
        (
            "households_served_to_date",
            "Households served to date",
            "households_served_to_date",
            "households",
        ),
    ):
        is_hidden = name in hidden or f"{name}[{label}]" in hidden
        value = float(areas[column].sum())
        register.add(_count(name, words, value, unit, is_hidden=is_hidden, inputs=by_area))
    by_month = (of_query("handovers_by_month", year.counts.handovers),)
    for month, bins in _bins_by_month(year).items():
        name = f"bins_given_in_month[{month}]"
        words = f"Bins given in {month}"
        register.add(_count(name, words, bins, "bins", is_hidden=name in hidden, inputs=by_month))


def add_months(register: FigureRegister, year: Year) -> None:
    """Add the estimates by month, hidden where few bins were given to date.

    An estimate is no count: from how it moves a reader may guess at the bins of a hidden
    month, as from any other knowledge of the program.

    Parameters
    ----------
    register
        Takes the figures.
    year
        Estimates of the year.
    """
    diversion = year.diversion
    hides = _months_without_estimate(year)
    for figure_id, label, draws, unit, whole in (
        (
            "bins_in_use_at_month_end",
            "Bins in use at the end of",
            diversion.bins_in_use.sum(axis=1),
            "bins",
            "bins_in_use",
        ),
        ("fed_t_in_month", "Food scraps fed in", _tonnes(diversion.fed_kg), "t", "fed_t"),
        (
            "kept_out_of_landfill_t_in_month",
            "Food scraps kept out of landfill in",
            _tonnes(diversion.kept_out_kg),
            "t",
            "kept_out_of_landfill_t",
        ),
        *_parts_of_feed(diversion),
    ):
        method = register[whole].method
        for place, month in enumerate(_bins_by_month(year)):
            value, low, high = interval(draws[:, place])
            name, words = f"{figure_id}[{month}]", f"{label} {month}"
            shown = Figure(name, words, value, low, high, unit, method, of_figures(whole))
            register.add(_hide(shown) if month in hides else shown)


def _parts_of_feed(
    diversion: Diversion,
) -> tuple[tuple[str, str, NDArray[np.float64], str, str], ...]:
    """List what multiplies to the feed of a month, and the residual bin's share of it."""
    bin_weeks, fed_kg = diversion.in_use_bin_weeks.sum(axis=1), diversion.fed_kg.sum(axis=1)
    return (
        ("in_use_bin_weeks_in_month", "Weeks of bins in use in", bin_weeks, "bin-weeks", "fed_t"),
        (
            "feed_kg_per_bin_week_in_month",
            "Food scraps fed to an in-use bin in a week of",
            _over(fed_kg, bin_weeks),
            "kg a week",
            "fed_t",
        ),
        (
            "residual_bin_share_in_month",
            "Share that went to the residual bin before, of the scraps fed in",
            _over(diversion.fed_by_route_kg[:, RESIDUAL_BIN], fed_kg),
            "share",
            "fed_t",
        ),
    )


def _over(part: NDArray[np.float64], whole: NDArray[np.float64]) -> NDArray[np.float64]:
    """One over the other, nothing where there is nothing."""
    return np.divide(part, whole, out=np.zeros_like(part), where=whole > 0.0)


def _tonnes(kg: NDArray[np.float64]) -> NDArray[np.float64]:
    by_month: NDArray[np.float64] = kg.sum(axis=1) / KG_PER_T
    return by_month


def _bins_by_month(year: Year) -> dict[str, float]:
    """Bins given in every month from the first hand-over on, none where there were none."""
    counted = dict(
        year.counts.handovers.group_by("handover_month").agg(pl.col("bins_given").sum()).iter_rows()
    )
    months = year.diversion.cohorts.months
    return {f"{month:%Y-%m}": float(counted.get(month, 0)) for month in months}


def _hidden(year: Year, seen: Seen) -> frozenset[str]:
    by_month = _bins_by_month(year)
    first_month = year.program.council.reporting_year_first_month
    labels = [label_of_date(month, first_month) for month in year.diversion.cohorts.months]
    threshold = year.program.privacy.small_cell_threshold
    return hidden_times(list(by_month), list(by_month.values()), labels, threshold, seen)


def _hidden_households(year: Year, reports: Iterable[FigureRegister]) -> frozenset[str]:
    areas = year.counts.areas
    before = [
        register["households_served_to_date"].value
        for register in reports
        if "households_served_to_date" in register
    ]
    return hidden_households(
        int(areas["households_served_in_year"].sum()),
        int(areas["households_served_to_date"].sum()),
        [int(count) for count in before if count is not None],
        year.program.privacy.small_cell_threshold,
    )


def _months_without_estimate(year: Year) -> frozenset[str]:
    """Months up to which too few bins were given to date."""
    threshold = year.program.privacy.small_cell_threshold
    by_month = _bins_by_month(year)
    to_date = np.cumsum(list(by_month.values()))
    pairs = zip(by_month, to_date, strict=True)
    return frozenset(month for month, bins in pairs if is_small(bins, threshold))


def _count(
    name: str, words: str, value: float, unit: str, *, is_hidden: bool, inputs: tuple[Input, ...]
) -> Figure:
    figure = Figure(name, words, value, None, None, unit, COUNTED, inputs)
    return _hide(figure) if is_hidden else figure


def _hide(figure: Figure) -> Figure:
    return replace(figure, value=None, low=None, high=None, method=HIDDEN, inputs=())
