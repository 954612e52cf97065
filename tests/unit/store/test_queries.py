"""Query headers are read and kept to; stage queries can be read by name."""

from __future__ import annotations

import duckdb
import pytest

from planner.errors import StoreError
from planner.store.connection import fetch
from planner.store.opening import open_store
from planner.store.queries import _paths, folder_queries, read_query
from tests.queries.given import all_queries

TEXT = """-- {name}: what it gives.
--   A second line of explanation.
-- grain:  wave_id, household_id
-- params: as_of
-- reads:  answers
-- feeds:
select 1
"""


@pytest.fixture
def query_folder(tmp_path, monkeypatch):
    monkeypatch.setattr("planner.store.queries.QUERIES", tmp_path)
    (tmp_path / "summary").mkdir()
    _paths.cache_clear()
    read_query.cache_clear()
    yield tmp_path / "summary"
    _paths.cache_clear()
    read_query.cache_clear()


def test_a_header_is_read_into_its_parts(query_folder):
    (query_folder / "answers_seen.sql").write_text(TEXT.replace("{name}", "answers_seen"))
    query = read_query("answers_seen")
    assert query.title == "what it gives."
    assert query.grain == ("wave_id", "household_id")
    assert (query.params, query.reads, query.feeds) == (("as_of",), ("answers",), ())


@pytest.mark.parametrize("lost", ["-- grain:", "-- params:", "-- reads:", "-- feeds:"])
def test_a_header_without_a_line_is_a_fault(query_folder, lost):
    text = TEXT.replace("{name}", "short").replace(lost, "-- was:")
    (query_folder / "short.sql").write_text(text)
    with pytest.raises(ValueError, match=lost.strip("- :")):
        read_query("short")


def test_a_header_that_names_another_query_is_a_fault(query_folder):
    (query_folder / "renamed.sql").write_text(TEXT.replace("{name}", "before"))
    with pytest.raises(ValueError, match="its own name"):
        read_query("renamed")


def test_every_query_has_a_name_of_its_own_and_a_whole_header():
    names = [query.name for query in all_queries()]
    assert len(names) == len(set(names)) > 20


def test_parameters_that_the_header_does_not_name_are_a_fault(tmp_path):
    with open_store(tmp_path) as store:
        with pytest.raises(TypeError, match="as_of"):
            store.query("load_ids", as_of="2026-01-01")
        with pytest.raises(TypeError, match="sha256"):
            store.query("loads_of_content")


def test_stage_queries_can_be_read_by_name(tmp_path):
    with open_store(tmp_path):
        pass
    with open_store(tmp_path, read_only=True) as store:
        for query in folder_queries("stage"):
            assert store.program.view(query.name).fetchall() == []


@pytest.mark.parametrize(
    ("text", "params"),
    [
        ("select list(n) as numbers from range(10_000_000) as one(n)", None),
        ("select list(n) as numbers from range($count) as one(n)", {"count": 10_000_000}),
    ],
)
def test_a_query_that_needs_more_memory_than_it_may_have_ends_in_a_sentence(text, params):
    with duckdb.connect() as connection:
        connection.execute("set memory_limit = '4MB'")
        connection.execute("set temp_directory = ''")
        with pytest.raises(StoreError, match="memory_mb"):
            fetch(connection, text, params)
