"""Figures of problems that households told of: how many, of what, where, when, with which bin."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.report.disclosure import HIDDEN, hidden_parts, is_small
from planner.report.figures.declaring import Declared

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
