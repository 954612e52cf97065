"""What is taken in and refused of the sample files is what their truth lists."""

from __future__ import annotations

import polars as pl
import pytest

from planner.store.opening import open_store
from planner.store.queries import folder_queries
from tests.programs.conftest import TOWN_YEARS, TOWNS

PASSED_OVER = {"repeated_count": ["repeated_row"], "skipped_count": ["blank_row", "total_row"]}
WINDOW_DAYS = 45


def counted(loaded):
    return pl.concat(
        one.counts.select(pl.lit(one.file).alias("file"), pl.all()) for one in loaded.files
    )


def listed(truth, wanted):
    """Wrong rows of the truth by file and table, as {(file, table): rows}."""
    rows = pl.DataFrame(truth["wrong_rows"]).filter(wanted)
    summed = rows.group_by("file", "table").agg(pl.col("rows_count").sum())
    return {(file, table): count for file, table, count in summed.iter_rows()}


def found(loaded, column):
    rows = counted(loaded).filter(pl.col(column) > 0).select("file", "table_name", column)
    return {(file, table): count for file, table, count in rows.iter_rows()}


@pytest.mark.parametrize("town", TOWNS)
def test_the_rows_refused_are_the_wrong_rows_of_each_file_and_table(sample, town):
    one = sample(town)
    assert found(one.loaded, "refused_count") == listed(one.truth, pl.col("is_refused"))


@pytest.mark.parametrize("town", TOWNS)
@pytest.mark.parametrize("column", PASSED_OVER)
def test_rows_that_hold_nothing_new_are_passed_over(sample, town, column):
    one = sample(town)
    kinds = PASSED_OVER[column]
    assert found(one.loaded, column) == listed(one.truth, pl.col("kind").is_in(kinds))


@pytest.mark.parametrize("town", TOWNS)
def test_a_refused_cell_stands_in_the_column_that_was_spoilt(sample, town):
    one = sample(town)
    problems = pl.concat(file.problems for file in one.loaded.files)
    refused = [row for row in one.truth["wrong_rows"] if row["is_refused"]]
    places = set(problems.select("table_name", "column_name").iter_rows())
    assert {(row["table"], row["column"]) for row in refused} <= places


@pytest.mark.parametrize("town", TOWNS)
def test_every_good_row_is_taken_in(sample, town):
    one = sample(town)
    new = counted(one.loaded).group_by("table_name").agg(pl.col("new_count").sum())
    assert dict(new.iter_rows()) == one.truth["good_rows"]
    with open_store(one.folder, read_only=True) as store:
        kept = {table: store.records(table).height for table in one.truth["good_rows"]}
    assert kept == one.truth["good_rows"]


@pytest.mark.parametrize("town", TOWNS)
def test_bins_given_are_the_true_ones_less_the_hand_overs_that_were_spoilt(sample, town):
    one = sample(town)
    lost = [
        row["rows_count"]
        for row in one.truth["wrong_rows"]
        if row["table"] == "handovers" and row["is_real_row_lost"]
    ]
    true = {year["reporting_year"]: year["bins_given"] for year in one.truth["years"]}
    found = {label: one.year(label)[1]["bins_given"].value for label in true}
    assert all(found[label] <= true[label] for label in true)
    assert sum(true.values()) - sum(found.values()) == sum(lost)


@pytest.mark.parametrize(("town", "label"), TOWN_YEARS)
def test_the_grain_of_each_query_is_unique_and_its_order(sample, town, label):
    one = sample(town)
    from_date, before_date = one.program.months(label)
    values = {"from_date": from_date, "before_date": before_date, "window_days": WINDOW_DAYS}
    with open_store(one.folder, read_only=True) as store:
        for query in (q for f in ("stage", "summary") for q in folder_queries(f)):
            if not set(query.params) <= set(values):
                continue  # asked with words of its own, which its cases give
            rows = store.query(query.name, **{name: values[name] for name in query.params})
            assert rows.height, query.name
            if query.grain == ("one row",):
                assert rows.height == 1
                continue
            keys = rows.select(query.grain)
            assert keys.n_unique() == rows.height, query.name
            assert keys.equals(keys.sort(query.grain)), query.name
