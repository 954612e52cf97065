"""Figures of weighed weeks, the season of feeding, and what is remembered of the time before."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.diversion.benchmark import middles_of
from planner.diversion.counts import DIARY_WINDOW_DAYS
from planner.messages import paper
from planner.report.disclosure import HIDDEN, hides_part, is_small
from planner.report.figures.declaring import OF_WORMS, WEIGHTS, Declared
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.report.figures.declaring import Writer

WEEKS = "query:diary_weeks"
ON_SEASON = (
    f"{WEEKS} query:followup_answers query:diary_pairs {WEIGHTS} "
    "factor:year_to_surveyed_weeks_multiplier "
    "key:climate.monthly_mean_temperature_c"
)

FIGURES = (
    Declared("diary_weeks[calibrate_reports]", "weeks", WEEKS, method="uses_of_weeks"),
    Declared("diary_weeks[feed_level]", "weeks", WEEKS, method="uses_of_weeks"),
    Declared("diary_weeks[season]", "weeks", WEEKS, method="uses_of_weeks"),
    Declared("diary_to_surveyed_feed", "ratio", WEEKS),
    Declared("feed_season[{month}]", "ratio", f"{ON_SEASON} retention_12_months {OF_WORMS}"),
    Declared("feed_season_data_share", "share", ON_SEASON),
    Declared("rounding_feed_change[{unit}]", "share", f"query:followup_answers {WEIGHTS}"),
    Declared("baseline_recalled_share", "share", "query:prior_shares"),
    Declared(
        "recall_difference",
        "share",
        f"query:prior_shares {WEIGHTS} factor:recalled_residual_share_difference",
    ),
)


def add_diaries(out: Writer) -> None:
    """Add what each weighed week was used for, the season, rounding and recall."""
    _add_weeks(out)
    _add_season(out)
    for unit, change in out.year.diversion.reported.rounding_change.items():
        unit_words = paper().say(f"said.in_{unit}")
        out.put("rounding_feed_change[{unit}]", change, unit=unit, unit_words=unit_words)
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
        out.put(
            f"diary_weeks[{use}]",
            None if is_hidden else float(weeks_count),
            why=HIDDEN,
            window_days=DIARY_WINDOW_DAYS,
        )
    if level.weight > 0.0 and not is_small(level.households_count, threshold):
        out.put("diary_to_surveyed_feed", level.ratio, weight=paper().share(level.weight))


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
    out.put("feed_season_data_share", season.data_share, scale=paper().significant(season.scale))


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
        recalled=recall.recalled_count,
        asked=asked,
    )
    said = (
        paper().say("said.recall_measured", share=paper().share(recall.data_share))
        if recall.data_share > 0.0
        else paper().say("said.recall_believed")
    )
    out.put("recall_difference", recall.difference, said=said)
