"""Counts of households on the page of data quality that are too small to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.disclosure import hidden_parts, hides_part, is_small

if TYPE_CHECKING:
    from collections.abc import Mapping

NOT_OF_HOUSEHOLDS = ("areas", "events", "waves", "audits", "costs")
"""Record tables whose rows are no households."""

OF_A_SHEET = ("new_count", "corrected_count", "refused_count")
RATES = ("food_kg_per_household_week", "residual_kg_per_household_week")
NOT_SHOWN = "not shown"


def hidden_words(row: Mapping[str, object], least: int) -> dict[str, str]:
    """Words for the cells of one row whose counts are not printed.

    Parameters
    ----------
    row
        A row of one of the page's tables, by column.
    least
        Counts of households below it but above none are not printed, nor what would give
        them away in the same row.

    Examples
    --------
    >>> hidden_words({"wave_id": "F", "asked_count": 100, "answers_count": 95}, 10)
    {'answers_count': 'not shown'}
    """
    if row.get("table_name") in NOT_OF_HOUSEHOLDS:
        return {}
    few = f"fewer than {least}"
    counts = {name: count for name, count in row.items() if isinstance(count, int)}
    hidden = {name: few for name, count in counts.items() if is_small(count, least)}
    if "audits_count" in counts:
        hidden.pop("audits_count", None)
        return hidden | (dict.fromkeys(RATES, NOT_SHOWN) if hidden else {})
    if "asked_count" in counts and hides_part(
        counts["answers_count"], counts["asked_count"], least
    ):
        hidden.setdefault("answers_count", NOT_SHOWN)
    if "rows_read" in counts:
        hidden = _of_a_sheet(counts, least) | hidden
    return hidden


def _of_a_sheet(counts: Mapping[str, int], least: int) -> dict[str, str]:
    """Hide parts of the rows of a sheet; the rest of them stands in no column."""
    parts = [counts[name] for name in OF_A_SHEET]
    rest = max(counts["rows_read"] - sum(parts), 0)
    hidden = hidden_parts([*parts, rest], least)
    return {name: NOT_SHOWN for place, name in enumerate(OF_A_SHEET) if place in hidden}
