"""Labels of reporting years, as councils write them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

JANUARY = 1
_YEAR_LABEL = re.compile(r"(?P<start>\d{4})(?:-(?P<end>\d{2}))?")


def year_label(start_year: int, first_month: int) -> str:
    """Write a reporting year as councils do.

    Parameters
    ----------
    start_year
        Calendar year in which it begins.
    first_month
        Month in which it begins, 1 to 12.

    Examples
    --------
    >>> year_label(2025, 1), year_label(2025, 7)
    ('2025', '2025-26')
    """
    if first_month == JANUARY:
        return str(start_year)
    return f"{start_year}-{(start_year + 1) % 100:02d}"


def label_of_date(day: dt.date, first_month: int) -> str:
    """Name the reporting year in which a day falls.

    Examples
    --------
    >>> import datetime as dt
    >>> label_of_date(dt.date(2026, 6, 30), 7)
    '2025-26'
    """
    start = day.year if day.month >= first_month else day.year - 1
    return year_label(start, first_month)


def label_start(label: str) -> int | None:
    """Calendar year in which a labelled year begins; None where the label is not one."""
    match = _YEAR_LABEL.fullmatch(label)
    return int(match["start"]) if match else None


def next_label(label: str) -> str:
    """Name the reporting year after one.

    Examples
    --------
    >>> next_label("2025-26"), next_label("2025"), next_label("2099-00")
    ('2026-27', '2026', '2100-01')
    """
    start = label_start(label) or 0
    return year_label(start + 1, 2 if "-" in label else 1)
