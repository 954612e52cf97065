"""Words chosen by results, by rules that the report itself states."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from planner.report.document.saying import Saying

Side = Literal["above", "below", "either"]

AUDITED = "audit_food_kg_per_household_week_change"
GAP = "audit_less_survey_food_kg_per_household_week"
"""Audited less surveyed change: audit and survey agree where its interval holds zero."""

RULES = (
    "An estimate is above its target where the chance that the target was reached is 66% or "
    "more, below it where that chance is 33% or less, and on target in between. A count is "
    "above, on or below as it is. In a year that still runs the chance is that of its forecast: "
    "on track from 66%, behind below 33%.",
    "A result is called above or below zero only where its whole interval is. Otherwise the "
    "report says that it could be zero.",
    "Audit and survey agree where zero lies in the 95% interval of their difference. Where zero "
    "also lies in the interval of the audited change itself, the audit is called too small.",
    "A result is inside the plan where its value lies within the 95% interval planned, above or "
    "below where its whole interval lies beyond, and not clearly so where the two overlap.",
    "A year differs from an earlier one where zero lies outside the 95% interval of the change.",
    "A number is rounded by its interval, and one without an interval like the estimate it "
    "belongs to: a half width up to 355 in its first three digits "
    "keeps two digits, a wider one keeps one; of a lopsided interval twice its shorter side "
    "stands for the half width (Particle Data Group, Review of Particle Physics, "
    "section 5.3). The files and the workbook's sheet of figures hold it in full.",
)


def side_of_zero(saying: Saying, figure_id: str) -> Side:
    """Tell on which side of zero the whole interval of a figure lies."""
    low, high = saying.limits(figure_id)
    if low > 0.0:
        return "above"
    return "below" if high < 0.0 else "either"


def audit_is_small(saying: Saying) -> bool:
    """Whether an audit could not even tell its own change from none."""
    return saying.knows(AUDITED) and side_of_zero(saying, AUDITED) == "either"


def audit_agrees(saying: Saying) -> bool | None:
    """Whether audit and survey agree; None where there is no audit to compare."""
    return side_of_zero(saying, GAP) == "either" if saying.knows(GAP) else None
