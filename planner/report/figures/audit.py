"""Figures of the kerbside audit, beside what the survey says of the same households."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.audited import surveyed_change_kg_per_household_week
from planner.figures import interval
from planner.report.disclosure import HIDDEN, is_small
from planner.report.figures.declaring import Declared
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

    from planner.report.figures.declaring import Writer
    from planner.report.year import Year
    from planner.survey.randomisation import ExactTest

UNIT = "kg per household and week"
AUDITED = "audit_food_kg_per_household_week_change"
SURVEYED = "survey_food_kg_per_household_week_change"
GAP = "audit_less_survey_food_kg_per_household_week"
DETECTABLE = "audit_detectable_food_kg_per_household_week"
PLACEBO = "audit_placebo_food_kg_per_household_week_change"

COMPARED = (
    "Difference in differences: change of food per household where bins were given, less the "
    "change in comparison clusters over the same time. {said}"
)
TABLE = {"audit": ""}

FIGURES = (
    Declared(
        AUDITED,
        "Change of food in the residual bin where bins were given, by the kerbside audit",
        UNIT,
        COMPARED,
        "query:audit_changes",
        TABLE,
    ),
    Declared(
        SURVEYED,
        "The same change, by the survey",
        UNIT,
        "Scraps fed to worm bins that went to the residual bin before, over all households with a "
        "bin given, those that stopped among them, in the months of the audit after the giveaway. "
        "The audit is not used in it.",
        "fed_t kept_out_of_landfill_t",
        TABLE,
    ),
    Declared(
        GAP,
        "Audited change minus the surveyed one",
        UNIT,
        "{said}",
        f"{AUDITED} {SURVEYED}",
        TABLE,
    ),
    Declared(
        DETECTABLE,
        "Smallest true change that this audit would have found four times in five",
        UNIT,
        "Significant at 5% with a chance of 80%: (t at 0.975 + t at 0.8) × standard error.",
        AUDITED,
        TABLE,
    ),
    Declared(
        PLACEBO,
        "Audited change between two visits before any bin was given",
        UNIT,
        COMPARED,
        "query:audit_changes",
        TABLE,
    ),
)


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
    """Say why an audit has no figures; empty where it has them."""
    households = visits.group_by("arm", "period").agg(pl.col("households_count").sum())
    threshold = year.program.privacy.small_cell_threshold
    if any(is_small(count, threshold) for count in households["households_count"]):
        return HIDDEN
    if scores.has_standard_error:
        return ""
    return (
        f"{scores.given.size} clusters that were given bins and {scores.comparison.size} for "
        f"comparison are audited before and after so far; an interval needs {LEAST_CLUSTERS} "
        "of each."
    )


def _in_words(seed: int, scores: ChangeScores, found: Difference) -> str:
    """Clusters, degrees of freedom and the tests that lean on no distribution."""
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


def _add_survey(out: Writer, found: Difference, audited: NDArray[np.float64]) -> None:
    surveyed = surveyed_change_kg_per_household_week(out.year.diversion, out.year.counts.audits)
    if surveyed is None:
        reason = "No audit after the giveaway lies in the months that are measured."
        out.put(SURVEYED, None, why=reason)
        out.put(GAP, None, why=reason)
        return
    gap = audited - surveyed
    out.put(SURVEYED, surveyed)
    out.put(GAP, gap, said=agreement(gap, found))


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


def _add_placebo(out: Writer) -> None:
    """Add the change over a time without bins, where clusters were visited twice before."""
    scores = placebo_scores(out.year.counts.audits)
    if not scores.has_standard_error:
        return
    method, found = out.year.program.method, difference(scores)
    draws = difference_draws(found, method.draws_count, random_stream(method.seed, "audit placebo"))
    verdict = (
        "The arms went alike before, as the comparison assumes."
        if found.low <= 0.0 <= found.high
        else "The arms did not go alike before, so the audited change may not be the bins'."
    )
    out.put(PLACEBO, draws, said=f"Here nothing was given. {verdict}")
