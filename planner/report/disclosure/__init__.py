"""Disclosure control: what is too small to show, and what is hidden to protect it."""

from planner.report.disclosure.areas import area_table, hidden_areas
from planner.report.disclosure.parts import (
    HIDDEN,
    Span,
    hidden_parts,
    hides_part,
    is_hidden,
    is_small,
    stretches,
    tell_of_few,
    tells_apart,
)
from planner.report.disclosure.releases import hidden_by_change, stands, with_standing
from planner.report.disclosure.suppression import CountTable, bounds, suppress, too_close
from planner.report.disclosure.times import (
    Seen,
    changed_times,
    hidden_households,
    hidden_times,
    seen_in,
    time_table,
)

__all__ = [
    "HIDDEN",
    "CountTable",
    "Seen",
    "Span",
    "area_table",
    "bounds",
    "changed_times",
    "hidden_areas",
    "hidden_by_change",
    "hidden_households",
    "hidden_parts",
    "hidden_times",
    "hides_part",
    "is_hidden",
    "is_small",
    "seen_in",
    "stands",
    "stretches",
    "suppress",
    "tell_of_few",
    "tells_apart",
    "time_table",
    "too_close",
    "with_standing",
]
