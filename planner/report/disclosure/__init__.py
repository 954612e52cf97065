"""Disclosure control: what is too small to show, and what is hidden to protect it."""

from planner.report.disclosure.areas import area_table, hidden_areas
from planner.report.disclosure.audit import CountTable, bounds, too_close
from planner.report.disclosure.parts import hidden_parts, hides_part, is_small
from planner.report.disclosure.releases import (
    ISSUES_COMPARED,
    hidden_by_change,
    too_few_changed,
)
from planner.report.disclosure.suppression import suppress
from planner.report.disclosure.times import (
    Seen,
    changed_times,
    hidden_households,
    hidden_times,
    seen_in,
    time_table,
)

HIDDEN = "Not shown: too few households, or needed to protect a part with too few."

__all__ = [
    "HIDDEN",
    "ISSUES_COMPARED",
    "CountTable",
    "Seen",
    "area_table",
    "bounds",
    "changed_times",
    "hidden_areas",
    "hidden_by_change",
    "hidden_households",
    "hidden_parts",
    "hidden_times",
    "hides_part",
    "is_small",
    "seen_in",
    "suppress",
    "time_table",
    "too_close",
    "too_few_changed",
]
