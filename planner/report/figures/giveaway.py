"""Figures of the giveaway: bins, households, targets, problems told, shared bins."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import polars as pl

from planner.diversion.cohorts import months_between
from planner.emissions.activity import BASES
from planner.field.shared_bins import feed_per_bin_week
from planner.figures import FigureRegister
from planner.messages import said
from planner.program import label_of_date
from planner.report.disclosure.parts import (
    hidden_by_change,
    hidden_parts,
    is_small,
    shown_parts,
    shown_total,
)
from planner.report.disclosure.times import (
    PublishedCells,
    changed_times,
    hidden_households,
    hidden_times,
    published_cells,
)
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.report.figures.writer import Writer
    from planner.report.year import CountedYear


QUANTITIES = {
    "new_plastic": "new_plastic_kg",
    "recycled_plastic": "recycled_plastic_kg",
    "bedding": "bedding_kg",
    "worms": "worms_kg",
    "moved": "moved_kg",
    "trips": "trips_count",
}
"""For each quantity its name in `planner.emissions.activity.Supplies.charged`."""

BY = ("problem", "area", "season", "model", "delivery")
"""What problems are counted by, in the order of the report."""

UNNAMED = {"no bin yet": "grouping.no_bin_yet", "not known": "grouping.not_known"}
PROBLEMS = "problems_told"


def add_giveaway(
    out: Writer,
    hidden_ids: frozenset[str],
    earlier: Iterable[FigureRegister] = (),
    issued: Iterable[FigureRegister] = (),
) -> None:
    """Add counts of bins and households, in the year, to date, by month and by area.

    The `earlier` reports, of other years, show some of the same counts; so do all issues.
    """
    reports = tuple(earlier)
    hidden = _hidden(out.counted, published_cells(reports), issued)
    hidden |= _hidden_households(out.counted, reports, issued)
    areas, label = out.counted.counts.areas, out.counted.reporting_year.reporting_year

    for name, column in (
        ("bins_given", "bins_given_in_year"),
        ("bins_given_to_date", "bins_given_to_date"),
        ("households_served", "households_served_in_year"),
        ("households_served_to_date", "households_served_to_date"),
    ):
        hides = name in hidden or f"{name}[{label}]" in hidden
        out.put(name, float(areas[column].sum()), hides=hides)
    for month, bins in bins_by_month(out.counted).items():
        hides = f"bins_given_in_month[{month}]" in hidden
        out.put("bins_given_in_month[{month}]", bins, hides=hides, month=month)
    by_area = areas.select("area_id", "area_name", "bins_given_in_year")
    for area_id, area, bins in by_area.iter_rows():
        hides = area_id in hidden_ids
        out.put("bins_given[{area_id}]", bins, hides=hides, area_id=area_id, area=area)


def add_quantities(out: Writer) -> None:
    """Add masses and trips on each basis; hidden where the bins given are."""
    for basis in BASES:
        given = "bins_given_to_date" if basis == "to_date" else "bins_given"
        is_hidden = out.register[given].value is None
        charged = out.year.activity.supplies.charged(basis)
        words = {"basis": basis, "basis_words": said(f"basis.{basis}")}
        for name, column in QUANTITIES.items():
            declared = f"account_quantity[{{basis}}.{name}]"
            out.put(declared, charged[column], words, hides=is_hidden)


def add_targets(out: Writer) -> None:
    """Add the year's targets, where the council has set any."""
    block = out.counted.reporting_year
    for name in ("bins_given_target", "kept_out_of_landfill_t_target"):
        target = getattr(block, name)
        if target is not None:
            out.put(name, float(target))


def bins_by_month(year: CountedYear) -> dict[str, float]:
    """Bins given in every month from the first hand-over on, none where there were none."""
    given = year.counts.handovers.group_by("handover_month").agg(pl.col("bins_given").sum())
    counted = dict(given.iter_rows())
    return {f"{month:%Y-%m}": float(counted.get(month, 0)) for month in _months(year)}


def _months(year: CountedYear) -> list[dt.date]:
    first = year.counts.handovers["handover_month"].min()
    return months_between(first, year.counts.before_date) if isinstance(first, dt.date) else []


def _hidden(
    year: CountedYear, seen: PublishedCells, issued: Iterable[FigureRegister]
) -> frozenset[str]:
    by_month = bins_by_month(year)
    first_month = year.program.council.reporting_year_first_month
    labels = [label_of_date(month, first_month) for month in _months(year)]
    threshold = year.program.privacy.small_cell_threshold
    in_year = dict(zip(by_month, labels, strict=True))
    changed = changed_times(by_month, in_year, issued, threshold)
    return hidden_times(list(by_month), list(by_month.values()), labels, threshold, seen, changed)


def _hidden_households(
    year: CountedYear, reports: Iterable[FigureRegister], issued: Iterable[FigureRegister]
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


def add_problems(out: Writer, issued: Iterable[FigureRegister] = ()) -> None:
    """Add the problems told in the year, in all and by kind, area, season, model, delivery.

    Whoever holds two of the year's issues to different days can subtract, so a count that changed
    by a few households since one of them is not shown.
    """
    rows, before = out.counted.counts.problems, tuple(issued)
    kinds = rows.filter(grouping="problem")
    whole, households = (int(kinds[name].sum()) for name in ("problems_count", "households_count"))
    if not whole:
        return
    totals = [total for one in before if (total := shown_total(one, PROBLEMS)) is not None]
    hides = is_small(households, out.threshold) or any(
        is_small(abs(whole - total), out.threshold) for total in totals
    )
    out.put(PROBLEMS, whole, hides=hides)
    for grouping in BY:
        mine = rows.filter(pl.col("grouping") == grouping)
        hidden = _hidden_problems(mine, before, out.threshold)
        for part, count in mine.select("part", "problems_count").iter_rows():
            words = {"grouping": grouping, "grouping_words": said(f"grouping.{grouping}")}
            words |= {"part": part, "part_words": part_words(grouping, part)}
            hides = f"{grouping}: {part}" in hidden
            out.put("problems_told[{grouping}: {part}]", count, words, hides=hides)


def part_words(grouping: str, part: str) -> str:
    """Name what problems are counted by: a kind of problem, a quarter, or the name as it is."""
    year, _, quarter = part.partition(" quarter ")
    if grouping == "season" and quarter:
        return said("grouping.quarter", year=year, quarter=quarter)
    if part in UNNAMED:
        return said(UNNAMED[part])
    return said(f"problem.{part}.words") if grouping == "problem" else part


def _hidden_problems(
    mine: pl.DataFrame, issued: Sequence[FigureRegister], threshold: int
) -> set[str]:
    """Find parts of one grouping that are small, or changed by a small count since an issue."""
    names = [f"{one}: {part}" for one, part in mine.select("grouping", "part").iter_rows()]
    small = hidden_parts(mine["households_count"].to_list(), threshold)
    hidden = {names[place] for place in small}
    # a household may tell of several problems, and then changes a count by as many
    problems, households = mine.select("problems_count", "households_count").sum().row(0) or (0, 0)
    each = math.ceil(problems / households) if households else 1
    now = dict(zip(names, map(float, mine["problems_count"]), strict=True))
    for one in issued:
        shown, total = shown_parts(one, PROBLEMS), shown_total(one, PROBLEMS)
        hidden |= hidden_by_change(now, shown, total, frozenset(hidden), threshold * each)
    return hidden


def add_sites(out: Writer) -> None:
    """Add what sites have and feed, where there are any."""
    rows = out.counted.counts.sites
    with_bins = rows.filter(rows["bins_count"] > 0)
    if with_bins.is_empty():
        return
    out.put("sites_with_bins", float(with_bins.height))
    out.put("site_bins_in_use", float(with_bins["bins_in_use_count"].sum()))
    rate = feed_per_bin_week(rows)
    out.put("site_feed_kg_per_bin_week", rate, why="why.too_few_sites")
    fed = None
    if rate is not None:
        weeks = float(rows["bin_weeks"].sum())
        fed = (rate[0] * weeks / KG_PER_T, rate[1] * weeks / KG_PER_T, rate[2] * weeks / KG_PER_T)
    out.put("site_fed_t", fed, why="why.too_few_sites")
