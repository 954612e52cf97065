"""Figures of problems told and of shared bins."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.field.shared_bins import feed_per_bin_week
from planner.report.disclosure import HIDDEN, hidden_parts, is_small
from planner.report.figures.declaring import Declared
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer

TOLD = (
    "Cases and answers that name a problem, each problem counted once a household in the year. "
    "Households that were asked in a survey tell more, so an area or season with more answers has "
    "more problems. Counts of too few households are not shown."
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
    "Apart from the tonnes of households: nobody asked where sites' scraps went before, so none of "
    "it is claimed as kept out of landfill."
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


def add_problems(out: Writer) -> None:
    """Add the problems told in the year, in all and by kind, area, season, model, delivery."""
    rows = out.year.counts.problems
    threshold = out.year.program.privacy.small_cell_threshold
    kinds = rows.filter(grouping="problem")
    whole, households = (int(kinds[name].sum()) for name in ("problems_count", "households_count"))
    if not whole:
        return
    out.put("problems_told", None if is_small(households, threshold) else whole, why=HIDDEN)
    for grouping in BY:
        mine = rows.filter(pl.col("grouping") == grouping)
        hidden = hidden_parts(mine["households_count"].to_list(), threshold)
        for place, row in enumerate(mine.iter_rows(named=True)):
            out.put(
                "problems_told[{grouping}: {part}]",
                None if place in hidden else row["problems_count"],
                why=HIDDEN,
                grouping=grouping,
                part=row["part"],
            )


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
