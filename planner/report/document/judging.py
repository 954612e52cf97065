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
    "appendix.rule.target",
    "appendix.rule.zero",
    "appendix.rule.audit",
    "appendix.rule.plan",
    "appendix.rule.year",
    "appendix.rule.rounding",
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
