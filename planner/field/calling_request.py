"""Calls that are asked for: a day, how many, and the limits of contact."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

CALLS_COUNT = 40
"""About what one person calls in a day. Common practice, no source."""

AT_RISK_COUNT = 15
REST_DAYS, RETRY_DAYS, TRIES = 28, 3, 3
"""Four weeks of peace after a talk, three days between attempts, three attempts. Common
practice of telephone surveys, no source."""


@dataclass(frozen=True)
class CallRequest:
    """A calling list that is asked for."""

    on_date: dt.date  # day of the list; records of later days do not count
    calls_count: int = CALLS_COUNT  # most calls
    # most calls made for no other reason than that the household may stop
    at_risk_count: int = AT_RISK_COUNT
    # days of peace after a talk, days between attempts, attempts without an answer after which
    # nobody tries again
    rest_days: int = REST_DAYS
    retry_days: int = RETRY_DAYS
    tries: int = TRIES
