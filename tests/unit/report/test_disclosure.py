"""Small counts stay hidden, and cannot be found from totals, nor from reports of two years."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.figures import Figure, FigureRegister
from planner.program import Privacy
from planner.report.disclosure.parts import hidden_parts, hides_part
from planner.report.disclosure.suppression import CountTable, bounds, suppress, too_close
from planner.report.disclosure.times import (
    PublishedCells,
    area_table,
    hidden_areas,
    hidden_households,
    hidden_times,
    published_cells,
    time_table,
)
from tests.prose import HIDDEN

PRIVACY = Privacy(small_cell_threshold=10)
LEVEL = 10


def areas(counts: list[tuple[int, int]]) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "area_id": [f"a{i:02d}" for i in range(len(counts))],
            "households_served_in_year": [year for year, _ in counts],
            "households_served_to_date": [total for _, total in counts],
            "bins_given_in_year": [year for year, _ in counts],
            "bins_given_to_date": [total for _, total in counts],
        }
    )


def two_way(inside: list[list[float]]) -> CountTable:
    """Cells of a table with a total for each row and column, and one for all."""
    cells = np.array(inside)
    rows, columns = cells.shape
    full = np.vstack([np.hstack([cells, cells.sum(1, keepdims=True)]), np.zeros(columns + 1)])
    full[-1] = full[:-1].sum(0)
    names = [
        f"{'abcdefgh'[i] if i < rows else 'all'}{j + 1 if j < columns else ''}"
        for i in range(rows + 1)
        for j in range(columns + 1)
    ]
    sums = []
    place = np.arange((rows + 1) * (columns + 1)).reshape(rows + 1, columns + 1)
    for line in (*place, *place.T):
        one = np.zeros(place.size)
        one[line] = 1.0
        one[line[-1]] = -1.0
        sums.append(one)
    margins = frozenset(names[p] for p in (*place[-1], *place[:-1, -1]))
    return CountTable(tuple(names), full.ravel(), np.array(sums), margins)


def of(table: CountTable, hidden: set[str], cell: str) -> list[float]:
    return bounds(table, hidden)[table.groups.index(cell)].tolist()


# ---- the attacker's bounds -------------------------------------------------------------


def test_one_hidden_cell_is_known_from_its_total() -> None:
    table = two_way([[20, 50, 10], [8, 19, 22], [17, 32, 12]])
    assert of(table, {"b1"}, "b1") == [8.0, 8.0]
    assert too_close(table, {"b1"}, LEVEL) == [table.groups.index("b1")]


def test_bounds_of_a_table_with_four_hidden_cells() -> None:
    """Investment by activity and region, of which four cells are hidden: b3 lies in 5 to 30.

    Fischetti and Salazar-González, Models and Algorithms for Optimizing Cell Suppression in
    Tabular Data with Linear Constraints, JASA 95 (2000) 916-928, figures 1 and 2; from
    memory. The other three are worked by hand: with x = b1, b3 = 30 - x, c1 = 25 - x and
    c3 = 4 + x, none of them below zero.
    """
    table = two_way([[20, 50, 10], [8, 19, 22], [17, 32, 12]])
    corners = {"b1", "b3", "c1", "c3"}
    assert of(table, corners, "b1") == [0.0, 25.0]
    assert of(table, corners, "b3") == [5.0, 30.0]
    assert of(table, corners, "c1") == [0.0, 25.0]
    assert of(table, corners, "c3") == [4.0, 29.0]


def test_a_two_way_table_is_protected_at_the_least_cost() -> None:
    """Every rectangle through b1, counted by hand, costs a sum of three other cells.

    With a and 2: 19 + 20 + 50; a and 3: 22 + 20 + 10 = 52; c and 2: 19 + 17 + 32; c and 3:
    22 + 17 + 12 = 51, the least.
    """
    table = two_way([[20, 50, 10], [8, 19, 22], [17, 32, 12]])
    assert suppress(table, {"b1"}, LEVEL) == {"b1", "b3", "c1", "c3"}


def test_a_hidden_total_gives_no_upper_bound() -> None:
    table = CountTable(("a", "b", "all"), np.array([3.0, 4.0, 7.0]), np.array([[1, 1, -1.0]]))
    assert of(table, {"a", "b", "all"}, "a") == [0.0, np.inf]
    assert of(table, {"a", "all"}, "all") == [4.0, np.inf]


def test_a_table_that_does_not_add_up_is_refused() -> None:
    with pytest.raises(ValueError, match="add up"):
        CountTable(("a", "all"), np.array([3.0, 4.0]), np.array([[1.0, -1.0]]))


def test_what_cannot_be_protected_is_hidden_all_the_same() -> None:
    table = CountTable(
        ("a", "b", "all"),
        np.array([3.0, 40.0, 43.0]),
        np.array([[1, 1, -1.0]]),
        frozenset({"b", "all"}),
    )
    assert suppress(table, {"a"}, LEVEL) == {"a"}


@given(
    st.lists(st.lists(st.integers(0, 60), min_size=3, max_size=3), min_size=3, max_size=4),
    st.integers(3, 20),
)
@settings(max_examples=60)
def test_the_audit_passes_whatever_the_table(inside: list[list[int]], level: int) -> None:
    """Law: where anything but the margins may be hidden, all small cells are protected.

    Margins of 3 x 3 cells and more can always protect: rows and columns whose sum is below
    the level are themselves small and hidden.
    """
    table = two_way(inside)
    small = {n for n, v in zip(table.groups, table.values, strict=True) if 0 < v < level}
    free = CountTable(table.groups, table.values, table.sums)
    hidden = suppress(free, small, level)
    assert small <= hidden
    assert too_close(free, hidden, level) == []
    assert bool(hidden) == bool(small)


# ---- areas -----------------------------------------------------------------------------


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
        max_size=8,
    )
)
@settings(max_examples=60)
def test_hidden_areas_protect_each_other(counts: list[tuple[int, int]]) -> None:
    """Law: no count of a hidden area is bounded closely, by totals of 10 or more at least.

    Where all areas that were served are hidden nothing more can be done.
    """
    frame = areas(counts)
    hidden = hidden_areas(frame, PRIVACY)
    small = {f"a{i:02d}" for i, pair in enumerate(counts) if any(0 < count < 10 for count in pair)}
    assert small <= hidden
    assert bool(hidden) == bool(small)
    served = {f"a{i:02d}" for i, (_, total) in enumerate(counts) if total > 0}
    table = area_table(frame)
    totals = {
        group
        for group, value in zip(table.groups, table.values, strict=True)
        if group not in set(frame["area_id"]) and 0 < value < 10
    }
    weak = {table.groups[cell] for cell in too_close(table, hidden | totals, LEVEL)}
    assert not weak or hidden == served


# ---- months, years, reports together ---------------------------------------------------

MONTHS = tuple(f"{2024 + (m // 12)}-{m % 12 + 1:02d}" for m in range(24))
YEARS = ("2024",) * 12 + ("2025",) * 12


def month(name: str) -> str:
    return f"bins_given_in_month[{name}]"


def test_a_small_month_takes_the_smallest_other_with_it() -> None:
    bins = [30, 40, 4, 50, 60, 70, 20, 80, 90, 45, 35, 25]
    hidden = hidden_times(MONTHS[:12], bins, YEARS[:12], 10)
    assert hidden == {month("2024-03"), month("2024-07")}


def test_months_without_bins_are_shown_and_protect_nothing() -> None:
    bins = [30, 0, 4, 0, 60, 0, 0, 0, 0, 0, 0, 0]
    assert hidden_times(MONTHS[:12], bins, YEARS[:12], 10) == {month("2024-03"), month("2024-01")}


def test_a_small_first_year_is_not_found_from_the_total_to_date() -> None:
    """6 bins in the first year: 2025's report must not give both its own and all to date."""
    bins = [0] * 11 + [6] + [50] * 12
    hidden = hidden_times(MONTHS, bins, YEARS, 10)
    assert {"bins_given[2024]", "bins_given_to_date[2024]"} <= hidden
    assert {"bins_given[2025]", "bins_given_to_date[2025]"} & hidden
    table = time_table(MONTHS, bins, YEARS, frozenset())
    assert too_close(table, hidden, LEVEL) == []


def test_a_month_stays_hidden_in_the_next_report() -> None:
    bins = [30, 40, 4, 50, 60, 70, 20, 80, 90, 45, 35, 25, *[40] * 12]
    first = hidden_times(MONTHS[:12], bins[:12], YEARS[:12], 10)
    both = hidden_times(MONTHS, bins, YEARS, 10)
    assert {cell for cell in both if "2024" in cell} == first


def test_what_an_earlier_report_showed_cannot_protect() -> None:
    """The cheapest companion, 20 in July, is out; the next cheapest, 25, takes its place."""
    bins = [30, 40, 4, 50, 60, 70, 20, 80, 90, 45, 35, 25]
    seen = PublishedCells(shown=frozenset({month("2024-07")}))
    assert hidden_times(MONTHS[:12], bins, YEARS[:12], 10, seen) == {
        month("2024-03"),
        month("2024-12"),
    }


def test_what_an_earlier_report_hid_stays_hidden() -> None:
    bins = [30.0] * 12
    hidden = hidden_times(
        MONTHS[:12], bins, YEARS[:12], 10, PublishedCells(hidden=frozenset({month("2024-05")}))
    )
    assert month("2024-05") in hidden
    assert len(hidden) == 2


def test_seen_names_the_year_of_totals() -> None:
    register = FigureRegister("Town", "2024", "1")
    register.add(Figure("bins_given", "", 40.0, None, None, "bins", ""))
    register.add(Figure("bins_given_to_date", "", None, None, None, "bins", HIDDEN))
    register.add(Figure(month("2024-02"), "", None, None, None, "bins", HIDDEN))
    seen = published_cells([register])
    assert seen.shown == {"bins_given[2024]"}
    assert seen.hidden == {"bins_given_to_date[2024]", month("2024-02")}


@given(st.lists(st.integers(0, 45), min_size=14, max_size=24), st.integers(3, 15))
@settings(max_examples=40)
def test_reports_of_all_years_together_bound_no_hidden_month(
    bins: list[int], threshold: int
) -> None:
    """Law: each year's report shows what it may; the readers of all of them learn no more.

    A year that must stay as close as it is has nothing left in it that could be hidden:
    what the report of the year before has shown, or months without bins.
    """
    count = len(bins)
    hidden = hidden_times(MONTHS[:count], bins, YEARS[:count], threshold)
    table = time_table(MONTHS[:count], bins, YEARS[:count], frozenset())
    small = {n for n, v in zip(table.groups, table.values, strict=True) if 0 < v < threshold}
    assert small <= hidden
    first = hidden_times(MONTHS[:12], bins[:12], YEARS[:12], threshold)
    assert first <= hidden
    assert {cell for cell in hidden if "2024" in cell} == first
    for cell in too_close(table, hidden, threshold):
        year = "2024" if "2024" in table.groups[cell] else "2025"
        of_year = [
            value > 0 and name not in hidden
            for name, value in zip(table.groups, table.values, strict=True)
            if f"[{year}" in name
        ]
        assert not any(of_year)


# ---- parts of a whole ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "whole", "expected"),
    [
        (171, 300, False),
        (95, 100, True),
        (7, 100, True),
        (0, 100, False),
        (100, 100, False),
        (3, 9, True),
    ],
)
def test_a_share_hides_few_and_all_but_few(part: int, whole: int, *, expected: bool) -> None:
    assert hides_part(part, whole, 10) is expected


def test_households_are_not_found_from_two_totals() -> None:
    to_date = {"households_served_to_date"}
    assert hidden_households(60, 64, [], 10) == to_date
    assert hidden_households(60, 90, [85], 10) == to_date
    assert hidden_households(6, 90, [84], 10) == {"households_served", *to_date}
    assert hidden_households(60, 60, [], 10) == frozenset()
    assert hidden_households(60, 90, [30], 10) == frozenset()


def test_a_part_below_ten_takes_another_with_it() -> None:
    assert hidden_parts([4, 171, 60], 10) == {0, 2}
    assert hidden_parts([4, 9], 10) == {0, 1}
    assert hidden_parts([12, 171, 60], 10) == frozenset()
    assert hidden_parts([4], 10) == {0}
