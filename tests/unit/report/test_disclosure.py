"""Small areas stay hidden, and cannot be found from the total."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.program import Privacy
from planner.report.disclosure import hidden_areas

PRIVACY = Privacy(small_cell_threshold=10)


def areas(counts: list[tuple[int, int]]) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "area_id": [f"a{i:02d}" for i in range(len(counts))],
            "households_served_in_year": [year for year, _ in counts],
            "households_served_to_date": [total for _, total in counts],
        }
    )


@pytest.mark.parametrize(
    ("counts", "expected"),
    [
        ([(40, 90), (60, 80)], set()),
        ([(40, 90), (0, 0)], set()),
        ([(4, 9), (60, 90), (30, 80)], {"a00", "a02"}),
        ([(4, 60), (5, 60), (30, 80), (50, 90)], {"a00", "a01", "a02"}),
        ([(6, 60), (7, 60), (30, 80), (50, 90)], {"a00", "a01"}),
        ([(3, 3)], {"a00"}),
    ],
    ids=["none small", "none served", "one small", "two add up to 9", "two add up to 13", "only"],
)
def test_hand_cases(counts: list[tuple[int, int]], expected: set[str]) -> None:
    assert hidden_areas(areas(counts), PRIVACY) == expected


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(0, 40)).map(lambda c: (c[0], c[0] + c[1])),
        min_size=1,
        max_size=12,
    )
)
def test_hidden_areas_protect_each_other(counts: list[tuple[int, int]]) -> None:
    """Law: what is hidden is none, or everything served, or two areas with 10 households."""
    hidden = hidden_areas(areas(counts), PRIVACY)
    small = {f"a{i:02d}" for i, pair in enumerate(counts) if any(0 < count < 10 for count in pair)}
    assert small <= hidden
    served = {f"a{i:02d}" for i, (_, total) in enumerate(counts) if total > 0}
    chosen = [pair for i, pair in enumerate(counts) if f"a{i:02d}" in hidden]
    enough = len(chosen) >= 2 and all(sum(pair[k] for pair in chosen) >= 10 for k in (0, 1))
    assert not hidden or hidden == served or enough
    assert bool(hidden) == bool(small)
