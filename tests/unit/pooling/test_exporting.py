"""An export tells of no few households, alone or beside a report of the same year."""

from __future__ import annotations

from types import SimpleNamespace

import polars as pl
import pytest

from planner.errors import PoolError
from planner.pooling.exporting import _check_enough

LEAST = 10


@pytest.mark.parametrize(
    ("in_year", "to_date", "households_before", "answers", "is_exported"),
    [
        (60, 60, 0, 30, True),
        (60, 90, 30, 30, True),
        (0, 90, 90, 30, True),
        # bins to date less those of the year are the 4 of the year before
        (60, 64, 4, 30, False),
        # 12 bins that few households took
        (60, 72, 4, 30, False),
        (6, 90, 84, 30, False),
        (60, 90, 30, 9, False),
    ],
)
def test_a_year_is_exported_where_no_count_or_difference_is_small(
    in_year, to_date, households_before, answers, is_exported
):
    areas = {"bins_given_in_year": [in_year], "bins_given_to_date": [to_date]}
    areas["households_served_in_year"] = [50]
    areas["households_served_to_date"] = [50 + households_before]
    counts = SimpleNamespace(areas=pl.DataFrame(areas), followup=pl.DataFrame({"a": [1] * answers}))
    if is_exported:
        _check_enough(counts, LEAST, "2025-26")
    else:
        with pytest.raises(PoolError, match="nothing is exported"):
            _check_enough(counts, LEAST, "2025-26")
