"""Figures of the giveaway: bins and households counted, what was given along, targets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.emissions import BASES
from planner.messages import paper
from planner.program import label_of_date
from planner.report.disclosure import (
    HIDDEN,
    Seen,
    changed_times,
    hidden_households,
    hidden_times,
    seen_in,
)
from planner.report.figures.declaring import Declared

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.figures import FigureRegister
    from planner.report.figures.declaring import Writer
    from planner.report.year import Year

BY_AREA, BY_MONTH = "query:bins_by_area", "query:handovers_by_month"


QUANTITIES = {
    "new_plastic": ("new_plastic_kg", "kg"),
    "recycled_plastic": ("recycled_plastic_kg", "kg"),
    "bedding": ("bedding_kg", "kg"),
    "worms": ("worms_kg", "kg"),
    "moved": ("moved_kg", "kg"),
    "trips": ("trips_count", "trips"),
}
"""For each quantity its name in `planner.emissions.activity.Supplies.charged`, and its unit."""

PLASTIC_MASS = "key:bin_models.plastic_kg+plastic_recycled_share"
OF_PLASTIC = ("new_plastic", "recycled_plastic", "moved")

FIGURES = (
    Declared("bins_given", "bins", BY_AREA, ("year",), method="counted"),
    Declared("bins_given_to_date", "bins", BY_AREA, method="counted"),
    Declared("households_served", "households", BY_AREA, ("year",), method="counted"),
    Declared("households_served_to_date", "households", BY_AREA, method="counted"),
    Declared("bins_given_in_month[{month}]", "bins", BY_MONTH, ("months",), method="counted"),
    Declared("bins_given[{area_id}]", "bins", BY_AREA, ("areas",), method="counted"),
    *(
        Declared(
            f"account_quantity[{{basis}}.{name}]",
            unit,
            f"query:supplies_by_month {PLASTIC_MASS * (name in OF_PLASTIC)}",
            method="summed",
        )
        for name, (_, unit) in QUANTITIES.items()
    ),
    Declared(
        "bins_given_target", "bins", "key:reporting_years.bins_given_target", method="from_program"
    ),
    Declared(
        "kept_out_of_landfill_t_target",
        "t",
        "key:reporting_years.kept_out_of_landfill_t_target",
        method="from_program",
    ),
)


def add_giveaway(
    out: Writer,
    hidden_ids: frozenset[str],
    earlier: Iterable[FigureRegister] = (),
    issued: Iterable[FigureRegister] = (),
) -> None:
    """Add counts of bins and households, in the year, to date, by month and by area.

    Parameters
    ----------
    out
        Takes the figures.
    hidden_ids
        Areas that are not shown.
    earlier
        Figures of the reports of other years, which show some of the same counts.
    issued
        Figures of every issue, of this year too.
    """
    reports = tuple(earlier)
    hidden = _hidden(out.year, seen_in(reports), issued) | _hidden_households(
        out.year, reports, issued
    )
    areas, label = out.year.counts.areas, out.year.reporting_year.reporting_year

    def count(name: str, value: float, *, is_hidden: bool, **words: str) -> None:
        out.put(name, None if is_hidden else value, words, why=HIDDEN)

    for name, column in (
        ("bins_given", "bins_given_in_year"),
        ("bins_given_to_date", "bins_given_to_date"),
        ("households_served", "households_served_in_year"),
        ("households_served_to_date", "households_served_to_date"),
    ):
        is_hidden = name in hidden or f"{name}[{label}]" in hidden
        count(name, float(areas[column].sum()), is_hidden=is_hidden)
    for month, bins in bins_by_month(out.year).items():
        is_hidden = f"bins_given_in_month[{month}]" in hidden
        count("bins_given_in_month[{month}]", bins, is_hidden=is_hidden, month=month)
    for area_id, area, bins in areas.select(
        "area_id", "area_name", "bins_given_in_year"
    ).iter_rows():
        is_hidden = area_id in hidden_ids
        count("bins_given[{area_id}]", bins, is_hidden=is_hidden, area_id=area_id, area=area)
    _add_quantities(out)
    _add_targets(out)


def _add_quantities(out: Writer) -> None:
    """Add masses and trips on each basis; hidden where the bins given are."""
    for basis in BASES:
        given = "bins_given_to_date" if basis == "to_date" else "bins_given"
        is_hidden = out.register[given].value is None
        charged = out.year.activity.supplies.charged(basis)
        for name, (column, _) in QUANTITIES.items():
            out.put(
                f"account_quantity[{{basis}}.{name}]",
                None if is_hidden else charged[column],
                why=HIDDEN,
                basis=basis,
                basis_words=basis_words(basis),
            )


def _add_targets(out: Writer) -> None:
    block = out.year.reporting_year
    for name in ("bins_given_target", "kept_out_of_landfill_t_target"):
        target = getattr(block, name)
        if target is not None:
            out.put(name, float(target))


def basis_words(basis: str) -> str:
    """Say what a basis of the emissions account covers."""
    return paper().say(f"basis.{basis}")


def bins_by_month(year: Year) -> dict[str, float]:
    """Bins given in every month from the first hand-over on, none where there were none."""
    counted = dict(
        year.counts.handovers.group_by("handover_month").agg(pl.col("bins_given").sum()).iter_rows()
    )
    months = year.diversion.cohorts.months
    return {f"{month:%Y-%m}": float(counted.get(month, 0)) for month in months}


def _hidden(year: Year, seen: Seen, issued: Iterable[FigureRegister]) -> frozenset[str]:
    by_month = bins_by_month(year)
    first_month = year.program.council.reporting_year_first_month
    labels = [label_of_date(month, first_month) for month in year.diversion.cohorts.months]
    threshold = year.program.privacy.small_cell_threshold
    in_year = dict(zip(by_month, labels, strict=True))
    changed = changed_times(by_month, in_year, issued, threshold)
    return hidden_times(list(by_month), list(by_month.values()), labels, threshold, seen, changed)


def _hidden_households(
    year: Year, reports: Iterable[FigureRegister], issued: Iterable[FigureRegister]
) -> frozenset[str]:
    areas, label = year.counts.areas, year.reporting_year.reporting_year
    given_out = tuple(issued)
    of_year = [one for one in given_out if one.reporting_year == label]
    return hidden_households(
        int(areas["households_served_in_year"].sum()),
        int(areas["households_served_to_date"].sum()),
        _shown("households_served_to_date", (*reports, *given_out)),
        year.program.privacy.small_cell_threshold,
        _shown("households_served", of_year),
    )


def _shown(name: str, registers: Iterable[FigureRegister]) -> list[int]:
    values = (one[name].value for one in registers if name in one)
    return [int(count) for count in values if count is not None]
