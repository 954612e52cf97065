"""What the survey expects an audit to find, worked by hand."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.audited import surveyed_change_kg_per_household_week
from planner.diversion.cohorts import Cohorts
from planner.diversion.leakage import Leakage

MONTHS = tuple(dt.date(2025, month, 1) for month in (1, 2, 3, 4))


def diversion(
    residual_kg: list[float], bins_in_january: int, thrown_share: float = 0.0
) -> SimpleNamespace:
    """One area and dwelling, all bins given in January; half of all scraps were residual."""
    given = np.zeros((4, 1, 3))
    given[0, 0, 0] = bins_in_january
    by_route = np.zeros((2, 5, 4))
    by_route[:, 0] = residual_kg
    by_route[:, 1] = residual_kg
    return SimpleNamespace(
        cohorts=Cohorts(MONTHS, ("A",), given),
        fed_by_route_kg=by_route,
        fed_kg=by_route.sum(axis=1),
        leakage=Leakage(np.full(2, 0.3), np.full(2, thrown_share), {}),
    )


def visits(*rows: tuple[str, str, dt.date, int]) -> pl.DataFrame:
    return pl.DataFrame(
        rows, schema=["arm", "period", "audit_date", "households_count"], orient="row"
    )


def test_residual_scraps_fed_over_households_given_and_weeks_of_the_audited_month():
    late = visits(("given", "after", dt.date(2025, 3, 9), 20))
    found = surveyed_change_kg_per_household_week(diversion([0, 0, 400, 90], 100), late)
    # 400 kg over 100 households and 31 / 7 weeks, by hand
    assert found == pytest.approx([-400 * 7 / (100 * 31)] * 2)


def test_what_was_thrown_back_is_found_by_the_audit_and_what_was_composted_anyway_is_not():
    # 800 kg fed, a tenth of it thrown back; the audit's other households never composted
    late = visits(("given", "after", dt.date(2025, 3, 9), 20))
    found = surveyed_change_kg_per_household_week(diversion([0, 0, 400, 90], 100, 0.1), late)
    assert found == pytest.approx([-(400 - 80) * 7 / (100 * 31)] * 2)


def test_months_count_by_the_households_audited_in_them():
    late = visits(
        ("given", "after", dt.date(2025, 3, 9), 30),
        ("given", "after", dt.date(2025, 4, 2), 10),
        ("comparison", "after", dt.date(2025, 1, 2), 500),
        ("given", "before", dt.date(2024, 6, 2), 500),
    )
    found = surveyed_change_kg_per_household_week(diversion([0, 0, 310, 900], 100), late)
    # (30 × 0.7 + 10 × 2.1) / 40, by hand
    assert found == pytest.approx([-1.05] * 2)


def test_the_month_of_hand_over_counts_half():
    early = visits(("given", "after", dt.date(2025, 1, 30), 20))
    found = surveyed_change_kg_per_household_week(diversion([155, 0, 0, 0], 100), early)
    assert found == pytest.approx([-155 * 7 / (50 * 31)] * 2)


def test_an_audit_outside_the_months_measured_compares_with_nothing():
    late = visits(("given", "after", dt.date(2026, 3, 9), 20))
    assert surveyed_change_kg_per_household_week(diversion([1, 1, 1, 1], 9), late) is None
