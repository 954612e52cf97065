"""Figures of weighed weeks, the season of feeding, and what is remembered of the time before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.diversion.benchmark import middles_of
from planner.diversion.counts import DIARY_WINDOW_DAYS
from planner.report.disclosure import HIDDEN, hides_part, is_small
from planner.report.figures.declaring import OF_WORMS, WEIGHTS, Declared
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer

USES = (
    f"Weeks within {DIARY_WINDOW_DAYS} days of an answer calibrate it; households without such "
    "a week inform the level of feed, from ten of them on; weeks of bins older than three "
    "months, of households that weighed two or more, the season. A week may serve two of "
    "these. planner check names each week that calibrates no report, and why."
)
WEEKS = "query:diary_weeks"
ON_SEASON = (
    f"{WEEKS} query:followup_answers query:diary_pairs {WEIGHTS} "
    "factor:year_to_surveyed_weeks_multiplier "
    "key:climate.monthly_mean_temperature_c"
)

FIGURES = (
    Declared(
        "diary_weeks[calibrate_reports]",
        "Weighed weeks that calibrate reports",
        "weeks",
        USES,
        WEEKS,
    ),
    Declared(
        "diary_weeks[feed_level]",
        "Weighed weeks of households that no answer is near",
        "weeks",
        USES,
        WEEKS,
    ),
    Declared("diary_weeks[season]", "Weighed weeks that show the season", "weeks", USES, WEEKS),
    Declared(
        "diary_to_surveyed_feed",
        "Feed weighed by households that no answer is near, over what the survey says",
        "ratio",
        "Same weeks, dwellings and ages. Joined with the survey by the inverse of both "
        "variances: it decides {weight} of the level of feed.",
        WEEKS,
    ),
    Declared(
        "feed_season[{month}]",
        "Feed in month {month} of a year over the year's mean, next to what the worms can take",
        "ratio",
        "Weighed weeks within households, survey rounds in different months and temperature "
        "shrink the stated belief.",
        f"{ON_SEASON} retention_12_months {OF_WORMS}",
    ),
    Declared(
        "feed_season_data_share",
        "Share of the uncertainty of the season that data took out",
        "share",
        "1 minus the variance left over that of the belief, over the year; the belief was "
        "{scale:g} times as wide as stated.",
        ON_SEASON,
    ),
    Declared(
        "rounding_feed_change[{unit}]",
        "What rounding may have changed the mean report in {unit} by",
        "share",
        "Mean of the likeliest distribution where each report stands for all amounts that round "
        "to it, over that where it stands as written, minus 1. Not taken off: where households "
        "weigh, the diaries take it out.",
        f"query:followup_answers {WEIGHTS}",
    ),
    Declared(
        "baseline_recalled_share",
        "Share of the baseline answers given after the household had its bin",
        "share",
        "{recalled} of {asked} answers. They are recall, another measurement, and count with "
        "the difference between the two taken off. planner check lists them.",
        "query:prior_shares",
    ),
    Declared(
        "recall_difference",
        "Share to the residual bin recalled after the hand-over, minus that answered before it",
        "share",
        "{said} Taken off the prior shares as far as they rest on recall.",
        f"query:prior_shares {WEIGHTS} factor:recalled_residual_share_difference",
    ),
)


def add_diaries(out: Writer) -> None:
    """Add what each weighed week was used for, the season, rounding and recall."""
    _add_weeks(out)
    _add_season(out)
    for unit, change in out.year.diversion.reported.rounding_change.items():
        out.put("rounding_feed_change[{unit}]", change, unit=unit)
    _add_recall(out)


def _add_weeks(out: Writer) -> None:
    level, season = out.year.diversion.diaries, out.year.diversion.benchmark.season
    threshold = out.year.program.privacy.small_cell_threshold
    for use, weeks_count, households_count in (
        ("calibrate_reports", level.calibrating_weeks_count, out.year.counts.diaries.height),
        ("feed_level", level.weeks_count, level.households_count),
        ("season", level.season_weeks_count, season.households_count if season else 0),
    ):
        is_hidden = is_small(households_count, threshold) or is_small(weeks_count, threshold)
        out.put(f"diary_weeks[{use}]", None if is_hidden else float(weeks_count), why=HIDDEN)
    if level.weight > 0.0 and not is_small(level.households_count, threshold):
        out.put("diary_to_surveyed_feed", level.ratio, weight=f"{level.weight:.0%}")


def _add_season(out: Writer) -> None:
    """Add the season of feeding and how far data tell of it."""
    season = out.year.diversion.benchmark.season
    if season is None:
        return
    first = out.year.counts.from_date.replace(month=1, day=1)
    months = [first.replace(month=month) for month in range(1, MONTHS_PER_YEAR + 1)]
    factor = np.exp(season.log_factor(middles_of(months)))
    factor = factor / factor.mean(axis=1, keepdims=True)
    for place, month in enumerate(months):
        out.put("feed_season[{month}]", factor[:, place], month=f"{month:%m}")
    out.put("feed_season_data_share", season.data_share, scale=season.scale)


def _add_recall(out: Writer) -> None:
    """Add how much of the baseline is recall, and what recall changes."""
    recall = out.year.diversion.recall
    asked = recall.before_count + recall.recalled_count
    is_hidden = hides_part(
        recall.recalled_count, asked, out.year.program.privacy.small_cell_threshold
    )
    out.put(
        "baseline_recalled_share",
        None if is_hidden else recall.recalled_share,
        why=HIDDEN,
        recalled=f"{recall.recalled_count:,}",
        asked=f"{asked:,}",
    )
    said = (
        "Within collection service and dwelling, shrunk towards 0 by the stated belief; "
        f"{recall.data_share:.0%} of it is what the answers say."
        if recall.data_share > 0.0
        else "Too few of either kind compare, so the stated belief about 0 stands and widens "
        "the intervals."
    )
    out.put("recall_difference", recall.difference, said=said)
