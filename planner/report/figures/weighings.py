"""Figures of what was weighed: diaries, the season of feeding, recall, the kerbside audit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.diversion.audited import surveyed_change_kg_per_household_week
from planner.diversion.benchmark import month_midpoints
from planner.diversion.counts import DIARY_WINDOW_DAYS
from planner.figures import interval
from planner.messages import paper, said
from planner.report.disclosure.parts import HIDDEN, hides_part, is_small
from planner.survey.audit import (
    LEAST_CLUSTERS,
    ChangeScores,
    Difference,
    ExactTest,
    change_scores,
    difference,
    difference_draws,
    placebo_scores,
    randomisation_test,
    wild_bootstrap_test,
)
from planner.survey.streams import random_stream
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.report.figures.writer import Writer
    from planner.report.year import Year

AUDITED = "audit_food_kg_per_household_week_change"
SURVEYED = "survey_food_kg_per_household_week_change"
GAP = "audit_less_survey_food_kg_per_household_week"
DETECTABLE = "audit_detectable_food_kg_per_household_week"
PLACEBO = "audit_placebo_food_kg_per_household_week_change"
LEAST_CHANCE = 1e-4
"""Chances are not told more closely than this."""


def add_diaries(out: Writer) -> None:
    """Add what each weighed week was used for, the season, rounding and recall."""
    _add_weeks(out)
    _add_season(out)
    for unit, change in out.year.diversion.reported.rounding_change.items():
        unit_words = said(f"said.in_{unit}")
        out.put("rounding_feed_change[{unit}]", change, unit=unit, unit_words=unit_words)
    _add_recall(out)


def _add_weeks(out: Writer) -> None:
    level, season = out.year.diversion.diaries, out.year.diversion.benchmark.season
    for use, weeks_count, households_count in (
        ("calibrate_reports", level.calibrating_weeks_count, out.year.counts.diaries.height),
        ("feed_level", level.weeks_count, level.households_count),
        ("season", level.season_weeks_count, season.households_count if season else 0),
    ):
        counts = (households_count, weeks_count)
        hides, days = any(is_small(one, out.threshold) for one in counts), DIARY_WINDOW_DAYS
        out.put(f"diary_weeks[{use}]", float(weeks_count), hides=hides, window_days=days)
    if level.weight > 0.0 and not is_small(level.households_count, out.threshold):
        out.put("diary_to_surveyed_feed", level.ratio, weight=paper().share(level.weight))


def _add_season(out: Writer) -> None:
    season = out.year.diversion.benchmark.season
    if season is None:
        return
    first = out.year.counts.from_date.replace(month=1, day=1)
    months = [first.replace(month=month) for month in range(1, MONTHS_PER_YEAR + 1)]
    factor = np.exp(season.log_factor(month_midpoints(months)))
    factor = factor / factor.mean(axis=1, keepdims=True)
    for place, month in enumerate(months):
        out.put("feed_season[{month}]", factor[:, place], month=f"{month:%m}")
    out.put("feed_season_data_share", season.data_share, scale=paper().significant(season.scale))


def _add_recall(out: Writer) -> None:
    recall = out.year.diversion.recall
    asked = recall.before_count + recall.recalled_count
    hides = hides_part(recall.recalled_count, asked, out.threshold)
    counts = {"recalled": recall.recalled_count, "asked": asked}
    out.put("baseline_recalled_share", recall.recalled_share, counts, hides=hides)
    words = said("said.recall_believed")
    if recall.data_share > 0.0:
        words = said("said.recall_measured", share=paper().share(recall.data_share))
    out.put("recall_difference", recall.difference, said=words)


def add_audit(out: Writer) -> None:
    """Add the audited change, the surveyed one, whether they agree, and what could be found.

    Nothing is added where no cluster was audited. Where the clusters carry no interval, or
    an arm has fewer households than may be told of, the figures say so and have no value.
    """
    visits = out.year.counts.audits
    if visits.is_empty():
        return
    scores = change_scores(visits)
    reason = _why_not(out.year, visits, scores)
    if reason:
        for name in (AUDITED, SURVEYED, GAP, DETECTABLE):
            out.put(name, None, why=reason)
        return
    found, method = difference(scores), out.year.program.method
    draws = difference_draws(found, method.draws_count, random_stream(method.seed, "audit"))
    out.put(AUDITED, draws, said=_in_words(method.seed, scores, found))
    _add_survey(out, found, draws)
    out.put(DETECTABLE, found.detectable)
    _add_placebo(out)


def _why_not(year: Year, visits: pl.DataFrame, scores: ChangeScores) -> str:
    households = visits.group_by("arm", "period").agg(pl.col("households_count").sum())
    threshold = year.program.privacy.small_cell_threshold
    if any(is_small(count, threshold) for count in households["households_count"]):
        return HIDDEN
    if scores.has_standard_error:
        return ""
    sizes = {"given": scores.given.size, "comparison": scores.comparison.size}
    return said("why.few_clusters", **sizes, least=LEAST_CLUSTERS)


def _in_words(seed: int, scores: ChangeScores, found: Difference) -> str:
    """Clusters, degrees of freedom and the tests that lean on no distribution."""
    exact = randomisation_test(scores, random_stream(seed, "audit splits"))
    wild = wild_bootstrap_test(scores, random_stream(seed, "audit signs"))
    words = paper()
    told = [
        said(
            "said.audit_clusters",
            given=scores.given.size,
            comparison=scores.comparison.size,
            freedom=words.number(found.degrees_of_freedom, 1),
            by_t=_chance(found.p_value),
            by_splits=_of_test(exact, "splits"),
            by_signs=_of_test(wild, "signs"),
        )
    ]
    told += [said("said.few_clusters")] if scores.is_few else []
    unmatched = int(scores.unmatched_count)
    told += [said("said.clusters_left_out", unmatched)] if unmatched else []
    return " ".join(told)


def _of_test(test: ExactTest, of_what: str) -> str:
    listed = "all" if test.is_enumerated else "drawn"
    chance = _chance(test.p_value)
    return said(f"said.test.{of_what}_{listed}", chance=chance, count=int(test.count))


def _chance(p_value: float) -> str:
    if p_value >= LEAST_CHANCE:
        return paper().significant(p_value, 2)
    return said("said.chance_below", least=paper().significant(LEAST_CHANCE))


def _add_survey(out: Writer, found: Difference, audited: Numbers) -> None:
    surveyed = surveyed_change_kg_per_household_week(out.year.diversion, out.year.counts.audits)
    if surveyed is None:
        reason = "why.no_audit_after"
        out.put(SURVEYED, None, why=reason)
        out.put(GAP, None, why=reason)
        return
    gap = audited - surveyed
    out.put(SURVEYED, surveyed)
    out.put(GAP, gap, said=agreement(gap, found))


def agreement(gap: Numbers, found: Difference) -> str:
    """Say whether audit and survey agree: they do where the gap's interval holds zero.

    The gap is the audited less the surveyed change, shape (1 + draws_count,) [kg per household and
    week]; what the audit could have found is said with it.

    Examples
    --------
    >>> found = Difference(-1.0, 0.2, 9.0, -1.5, -0.5, 0.001, 0.6)
    >>> agreement(np.r_[0.1, np.linspace(-0.5, 0.7, 101)], found)[:28]
    'Audit and survey agree: zero'
    >>> agreement(np.r_[0.5, np.linspace(0.2, 0.8, 101)], found)[:34]
    'Audit and survey do not agree: the'
    """
    words, (value, low, high) = paper(), interval(gap)
    if low <= 0.0 <= high:
        return said("said.audit_agrees", gap=words.significant(found.detectable, 2))
    side = "less" if value > 0.0 else "more"
    return said(f"said.audit_finds_{side}", gap=words.significant(abs(value), 2))


def _add_placebo(out: Writer) -> None:
    """Add the change over a time without bins, where clusters were visited twice before."""
    scores = placebo_scores(out.year.counts.audits)
    if not scores.has_standard_error:
        return
    method, found = out.year.program.method, difference(scores)
    draws = difference_draws(found, method.draws_count, random_stream(method.seed, "audit placebo"))
    verdict = "alike" if found.low <= 0.0 <= found.high else "apart"
    out.put(PLACEBO, draws, said=said(f"said.placebo_{verdict}"))
