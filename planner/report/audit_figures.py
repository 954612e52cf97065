"""Figures of the kerbside audit, beside what the survey says of the same households."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.audited import surveyed_change_kg_per_household_week
from planner.figures import Figure, FigureRegister, interval
from planner.report.disclosure import HIDDEN, is_small
from planner.report.inputs import of_figures, of_query
from planner.survey.audit import (
    LEAST_CLUSTERS,
    ChangeScores,
    Difference,
    change_scores,
    difference,
    difference_draws,
    placebo_scores,
)
from planner.survey.randomisation import randomisation_test, wild_bootstrap_test
from planner.survey.streams import random_stream

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.figures import Input
    from planner.report.year import Year
    from planner.survey.randomisation import ExactTest

UNIT = "kg per household and week"
AUDITED = "audit_food_kg_per_household_week_change"
SURVEYED = "survey_food_kg_per_household_week_change"
GAP = "audit_less_survey_food_kg_per_household_week"
DETECTABLE = "audit_detectable_food_kg_per_household_week"
PLACEBO = "audit_placebo_food_kg_per_household_week_change"

LABELS = {
    AUDITED: "Change of food in the residual bin where bins were given, by the kerbside audit",
    SURVEYED: "The same change, by the survey",
    GAP: "Audited change less the surveyed one",
    DETECTABLE: "Smallest true change that this audit would have found four times in five",
    PLACEBO: "Audited change between two visits before any bin was given",
}

COMPARED = (
    "Difference in differences: change of food per household where bins were given, less the "
    "change in comparison clusters over the same time."
)
LIKE_FOR_LIKE = (
    "Scraps fed to worm bins that went to the residual bin before, over all households with a "
    "bin given, those that stopped among them, in the months of the audit after the giveaway. "
    "The audit is not used in it."
)


@dataclass(frozen=True)
class _Audit:
    """One year's audit: its scores, difference and draws."""

    scores: ChangeScores
    found: Difference
    draws: NDArray[np.float64]


def add_audit(register: FigureRegister, year: Year) -> None:
    """Add the audited change, the surveyed one, whether they agree, and what could be found.

    Nothing is added where no cluster was audited. Where the clusters carry no interval, or
    an arm has fewer households than may be told of, the figures say so and have no value.
    """
    visits = year.counts.audits
    if visits.is_empty():
        return
    counted = (of_query("audit_changes", visits),)
    reason = _why_not(year, visits)
    if reason:
        for name in (AUDITED, SURVEYED, GAP, DETECTABLE):
            _add_without_value(register, name, reason, counted)
        return
    audit = _audit(year, visits)
    method = f"{COMPARED} {_in_words(year, audit)}"
    register.add_draws(AUDITED, LABELS[AUDITED], audit.draws, UNIT, method, counted)
    _add_survey(register, year, audit)
    register.add_exact(
        DETECTABLE,
        LABELS[DETECTABLE],
        audit.found.detectable,
        UNIT,
        "Significant at 5% with a chance of 80%: (t at 0.975 + t at 0.8) × standard error.",
        of_figures(AUDITED),
    )
    _add_placebo(register, year, counted)


def _why_not(year: Year, visits: pl.DataFrame) -> str:
    """Say why an audit has no figures; empty where it has them."""
    households = visits.group_by("arm", "period").agg(pl.col("households_count").sum())
    threshold = year.program.privacy.small_cell_threshold
    if any(is_small(count, threshold) for count in households["households_count"]):
        return HIDDEN
    scores = change_scores(visits)
    if scores.has_standard_error:
        return ""
    return (
        f"{scores.given.size} clusters that were given bins and {scores.comparison.size} for "
        f"comparison are audited before and after so far; an interval needs {LEAST_CLUSTERS} "
        "of each."
    )


def _add_without_value(
    register: FigureRegister, name: str, reason: str, inputs: tuple[Input, ...]
) -> None:
    register.add(Figure(name, LABELS[name], None, None, None, UNIT, reason, inputs))


def _audit(year: Year, visits: pl.DataFrame) -> _Audit:
    scores = change_scores(visits)
    found = difference(scores)
    method = year.program.method
    rng = random_stream(method.seed, "audit")
    return _Audit(scores, found, difference_draws(found, method.draws_count, rng))


def _in_words(year: Year, audit: _Audit) -> str:
    """Clusters, degrees of freedom and the tests that lean on no distribution."""
    scores, found, seed = audit.scores, audit.found, year.program.method.seed
    exact = randomisation_test(scores, random_stream(seed, "audit splits"))
    wild = wild_bootstrap_test(scores, random_stream(seed, "audit signs"))
    few = " An arm has fewer than six clusters: lean on the exact tests." if scores.is_few else ""
    left_out = (
        f" {scores.unmatched_count} clusters without a visit on one side are left out."
        if scores.unmatched_count
        else ""
    )
    return (
        f"{scores.given.size} clusters given bins, {scores.comparison.size} for comparison; "
        f"interval from change scores of clusters with {found.degrees_of_freedom:.1f} degrees of "
        f"freedom (Satterthwaite). Chance of a change this far from none if bins did nothing: "
        f"{_chance(found.p_value)} by Student's t, {_of_test(exact, 'splits of the clusters')}, "
        f"{_of_test(wild, 'sign changes (wild bootstrap)')}.{few}{left_out}"
    )


def _of_test(test: ExactTest, of_what: str) -> str:
    listed = "all" if test.is_enumerated else "drawn"
    return f"{_chance(test.p_value)} over {listed} {test.count:,} {of_what}"


def _chance(p_value: float) -> str:
    return f"{p_value:.2g}" if p_value >= 1e-4 else "below 0.0001"


def _add_survey(register: FigureRegister, year: Year, audit: _Audit) -> None:
    surveyed = surveyed_change_kg_per_household_week(year.diversion, year.counts.audits)
    inputs = of_figures("fed_t", "kept_out_of_landfill_t")
    if surveyed is None:
        reason = "No audit after the giveaway lies in the months that are measured."
        _add_without_value(register, SURVEYED, reason, inputs)
        _add_without_value(register, GAP, reason, of_figures(AUDITED, SURVEYED))
        return
    register.add_draws(SURVEYED, LABELS[SURVEYED], surveyed, UNIT, LIKE_FOR_LIKE, inputs)
    gap = audit.draws - surveyed
    register.add_draws(
        GAP, LABELS[GAP], gap, UNIT, agreement(gap, audit.found), of_figures(AUDITED, SURVEYED)
    )


def agreement(gap: NDArray[np.float64], found: Difference) -> str:
    """Say whether audit and survey agree: they do where the gap's interval holds zero.

    Parameters
    ----------
    gap
        Audited less surveyed change, shape (1 + draws_count,) [kg per household and week].
    found
        The audit's difference, for what it could have found.

    Examples
    --------
    >>> found = Difference(-1.0, 0.2, 9.0, -1.5, -0.5, 0.001, 0.6)
    >>> agreement(np.r_[0.1, np.linspace(-0.5, 0.7, 101)], found)[:28]
    'Audit and survey agree: zero'
    >>> agreement(np.r_[0.5, np.linspace(0.2, 0.8, 101)], found)[:34]
    'Audit and survey do not agree: the'
    """
    value, low, high = interval(gap)
    if low <= 0.0 <= high:
        return (
            "Audit and survey agree: zero lies in the 95% interval of their difference. The "
            f"audit could tell apart no gap below about {found.detectable:.2g} kg, so agreement "
            "within that says little more."
        )
    side = "less" if value > 0.0 else "more"
    return (
        f"Audit and survey do not agree: the audit finds {abs(value):.2g} kg per household and "
        f"week {side} taken out of the residual bin than the survey says. Seek the cause "
        "before the figures are used: households that flatter their bin, audited clusters "
        "unlike the rest, or food moved to other routes."
    )


def _add_placebo(register: FigureRegister, year: Year, inputs: tuple[Input, ...]) -> None:
    """Add the change over a time without bins, where clusters were visited twice before."""
    scores = placebo_scores(year.counts.audits)
    if not scores.has_standard_error:
        return
    method = year.program.method
    found = difference(scores)
    draws = difference_draws(found, method.draws_count, random_stream(method.seed, "audit placebo"))
    verdict = (
        "The arms went alike before, as the comparison assumes."
        if found.low <= 0.0 <= found.high
        else "The arms did not go alike before, so the audited change may not be the bins'."
    )
    register.add_draws(
        PLACEBO,
        LABELS[PLACEBO],
        draws,
        UNIT,
        f"{COMPARED} Here nothing was given. {verdict}",
        inputs,
    )
