"""Figures of problems told and of shared bins."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from planner.field.shared_bins import feed_per_bin_week
from planner.messages import paper
from planner.report.disclosure import HIDDEN, hidden_by_change, hidden_parts, is_small
from planner.report.disclosure.releases import shown_parts, shown_total
from planner.report.figures.declaring import Declared
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from planner.figures import FigureRegister
    from planner.report.figures.declaring import Writer

BY = ("problem", "area", "season", "model", "delivery")
"""What problems are counted by, in the order of the report."""

UNNAMED = {"no bin yet": "grouping.no_bin_yet", "not known": "grouping.not_known"}
BY_SITE = "query:site_weeks"
TABLE = ("sites",)

FIGURES = (
    Declared("problems_told", "problems", "query:problems_told", method="problems_told"),
    Declared(
        "problems_told[{grouping}: {part}]",
        "problems",
        "query:problems_told",
        ("problems",),
        method="problems_told",
    ),
    Declared("sites_with_bins", "sites", BY_SITE, TABLE, method="sites_counted"),
    Declared("site_bins_in_use", "bins", BY_SITE, TABLE, method="sites_counted"),
    Declared("site_feed_kg_per_bin_week", "kg", BY_SITE, TABLE),
    Declared(
        "site_fed_t", "t", f"site_feed_kg_per_bin_week {BY_SITE}", TABLE, method="own sites_apart"
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
                grouping_words=paper().say(f"grouping.{grouping}"),
                part_words=part_words(grouping, part),
            )


def grouping_head(grouping: str) -> str:
    """Name what problems are counted by, at the head of a row."""
    return paper().say(f"grouping.head.{grouping}")


def part_words(grouping: str, part: str) -> str:
    """Name what problems are counted by: a kind of problem, a quarter, or the name as it is."""
    say, (year, _, quarter) = paper(), part.partition(" quarter ")
    if grouping == "season" and quarter:
        return say.say("grouping.quarter", year=year, quarter=quarter)
    if part in UNNAMED:
        return say.say(UNNAMED[part])
    return say.say(f"problem.{part}.words") if grouping == "problem" else part


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
    out.put("site_feed_kg_per_bin_week", rate, why="why.too_few_sites")
    weeks = float(rows["bin_weeks"].sum())
    fed = (
        None
        if rate is None
        else (rate[0] * weeks / KG_PER_T, rate[1] * weeks / KG_PER_T, rate[2] * weeks / KG_PER_T)
    )
    out.put("site_fed_t", fed, why="why.too_few_sites")
