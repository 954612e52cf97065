"""Figures of problems told and of shared bins."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from planner.field.shared_bins import feed_per_bin_week
from planner.report.disclosure import HIDDEN, hidden_by_change, hidden_parts, is_small
from planner.report.disclosure.releases import shown_parts, shown_total
from planner.report.figures.declaring import Declared
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from planner.figures import FigureRegister
    from planner.report.figures.declaring import Writer

TOLD = (
    "These are cases and survey answers that name a problem; a problem counts once a household in "
    "the year. Surveys bring problems up, so areas and seasons with more answers show more. A "
    "count is left out where it, or its change since a report was given out, is of too few "
    "households."
)
BY = {
    "problem": "Problem",
    "area": "Area",
    "season": "Season",
    "model": "Bin model",
    "delivery": "Worm delivery",
}
"""What problems are counted by, in the order of the report."""

APART = (
    "These are not in the tonnes of households. Nobody asked where the scraps of these sites went "
    "before, so none are claimed as kept out of landfill."
)
COUNTED = "Counted in the records of sites."
BY_SITE = "query:site_weeks"
TABLE = {"sites": ""}
TOO_FEW = "Fewer than three sites weighed what they fed in the year."

FIGURES = (
    Declared("problems_told", "Problems told {in_year}", "problems", TOLD, "query:problems_told"),
    Declared(
        "problems_told[{grouping}: {part}]",
        "Problems told {in_year}, {grouping}: {part}",
        "problems",
        TOLD,
        "query:problems_told",
        {"problems": "Problems told"},
    ),
    Declared(
        "sites_with_bins", "Sites that were given bins to date", "sites", COUNTED, BY_SITE, TABLE
    ),
    Declared("site_bins_in_use", "Bins of sites in use {at_end}", "bins", COUNTED, BY_SITE, TABLE),
    Declared(
        "site_feed_kg_per_bin_week",
        "Scraps fed to a bin of a site in a week",
        "kg",
        "Kilograms weighed over bin-weeks weighed; the spread is that between sites (ratio "
        "estimate, Cochran 1977, section 6.4).",
        BY_SITE,
        TABLE,
    ),
    Declared(
        "site_fed_t",
        "Scraps fed at sites {in_year}",
        "t",
        f"Feed of a bin in a week × weeks in which bins of sites were in use. {APART}",
        f"site_feed_kg_per_bin_week {BY_SITE}",
        TABLE,
    ),
)


PROBLEMS = "problems_told"


def add_problems(out: Writer, issued: Iterable[FigureRegister] = ()) -> None:
    """Add the problems told in the year, in all and by kind, area, season, model, delivery.

    Parameters
    ----------
    out
        The figures of the year.
    issued
        Figures of the year's issues to other days: whoever holds two of them can subtract, so
        a count that changed by a few households since one of them is not shown.
    """
    rows, before = out.year.counts.problems, tuple(issued)
    threshold = out.year.program.privacy.small_cell_threshold
    kinds = rows.filter(grouping="problem")
    whole, households = (int(kinds[name].sum()) for name in ("problems_count", "households_count"))
    if not whole:
        return
    totals = [total for one in before if (total := shown_total(one, PROBLEMS)) is not None]
    is_hidden = is_small(households, threshold) or any(
        is_small(abs(whole - total), threshold) for total in totals
    )
    out.put(PROBLEMS, None if is_hidden else whole, why=HIDDEN)
    for grouping in BY:
        mine = rows.filter(pl.col("grouping") == grouping)
        hidden = _hidden(mine, before, threshold)
        for part, count in mine.select("part", "problems_count").iter_rows():
            out.put(
                "problems_told[{grouping}: {part}]",
                None if f"{grouping}: {part}" in hidden else count,
                why=HIDDEN,
                grouping=grouping,
                part=part,
            )


def _hidden(mine: pl.DataFrame, issued: Sequence[FigureRegister], threshold: int) -> set[str]:
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
    rows = out.year.counts.sites
    with_bins = rows.filter(rows["bins_count"] > 0)
    if with_bins.is_empty():
        return
    out.put("sites_with_bins", float(with_bins.height))
    out.put("site_bins_in_use", float(with_bins["bins_in_use_count"].sum()))
    rate = feed_per_bin_week(rows)
    out.put("site_feed_kg_per_bin_week", rate, why=TOO_FEW)
    weeks = float(rows["bin_weeks"].sum())
    fed = (
        None
        if rate is None
        else (rate[0] * weeks / KG_PER_T, rate[1] * weeks / KG_PER_T, rate[2] * weeks / KG_PER_T)
    )
    out.put("site_fed_t", fed, why=TOO_FEW)
