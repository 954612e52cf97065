"""Every query's header tells the truth about its text, and the text keeps to the style."""

from __future__ import annotations

import pkgutil
import re

import duckdb
import pytest

from planner.paths import QUERIES
from planner.store.connection import fetch
from planner.store.queries import folder_queries, link_parts, parts, read_query
from tests.queries.given import all_queries

WIDEST = 88
FOR_TESTS = "tests of the store"
ROOT = QUERIES.parent
FOLDERS = {"check", "schema", "schema_contacts", "stage", "store", "summary"}
SOURCE = "\n".join(path.read_text("utf-8") for path in (ROOT / "planner").rglob("*.py"))

# A relation stands after these words; a function's name there is followed by a bracket,
# and "is distinct from row(...)" reads no relation.
RELATION = re.compile(r"\b(?:from|join|update)\s+(\{?[a-z_]\w*\}?)(?!\w|\()")
NAMED_STEP = re.compile(r"\b(\w+) as \(\s*select")
LITERAL = re.compile(r"'[^']*'")


def statement(query):
    """Text of a query without its header's and other comments."""
    return re.sub(r"--.*", "", query.text)


def filled(query):
    """Text of a query as it runs, for a template with the parts of some table."""
    view = {"name": "a_view", "query": "select 1 as one"}
    link = link_parts("contacts", "household_id", "households")
    file = {"path": "a file", "alias": "store", "options": "read_only true"}
    blank = {"column": "phone", "blank": "null", "household": "household_id"}
    memory = {"megabytes": "500"}
    return query.fill(**{**parts("contacts"), **link, **view, **file, **blank, **memory})


def test_every_file_of_queries_is_a_query_of_a_known_folder():
    files = {path.relative_to(QUERIES).as_posix() for path in QUERIES.rglob("*") if path.is_file()}
    assert files == {f"{query.folder}/{query.name}.sql" for query in all_queries()}
    assert {query.folder for query in all_queries()} == FOLDERS


def test_parameters_named_are_parameters_used():
    def used(query):
        return set(re.findall(r"\$(\w+)", filled(query).partition("\n-- feeds:")[2]))

    assert [one.name for one in all_queries() if used(one) != set(one.params)] == []


def test_relations_named_are_relations_read():
    def read(query):
        text = LITERAL.sub("''", statement(query))
        return set(RELATION.findall(text)) - set(NAMED_STEP.findall(text))

    assert [one.name for one in all_queries() if read(one) != set(one.reads)] == []


def test_one_statement_a_file_without_a_semicolon():
    counts = {one.name: len(duckdb.extract_statements(filled(one))) for one in all_queries()}
    assert {name: count for name, count in counts.items() if count != 1} == {}
    assert [one.name for one in all_queries() if ";" in statement(one)] == []


def test_key_words_are_in_lower_case_and_lines_short():
    for query in all_queries():
        text, lines = LITERAL.sub("''", statement(query)), query.text.splitlines()
        assert text == text.lower(), query.name
        assert max(map(len, lines)) <= WIDEST, query.name
        assert query.text.endswith("\n"), query.name
        assert lines == [line.rstrip() for line in lines], query.name


def test_the_header_says_what_a_row_is_and_who_uses_it():
    assert [one.name for one in all_queries() if not (one.grain and one.feeds)] == []


def test_a_stage_query_feeds_exactly_the_queries_that_read_it():
    readers = {one.name: set(one.reads) for one in all_queries()}
    for query in (one for one in all_queries() if one.folder == "stage"):
        users = {name for name, reads in readers.items() if query.name in reads}
        assert set(query.feeds) == users, query.name


def test_a_query_that_is_run_feeds_what_is_there():
    run = set(re.findall(r'(?:query|read_query)\(\s*"(\w+)"', SOURCE))
    for query in (one for one in all_queries() if one.folder in ("store", "summary")):
        if query.feeds == (FOR_TESTS,):
            continue
        assert query.name in run
        for feed in query.feeds:
            assert pkgutil.resolve_name(f"planner.{feed}"), query.name


def test_two_queries_alone_are_for_tests():
    names = {query.name for query in all_queries() if FOR_TESTS in query.feeds}
    assert names == {"columns", "history"}


def test_an_insert_names_its_columns_whatever_their_order_in_the_file():
    for query in all_queries():
        into = re.findall(r"insert into \S+ ?(.*)", statement(query))
        assert all(rest == "by name" or rest.startswith("(") for rest in into), query.name


MIGRATION = re.compile(r"\s*(?:create table (\w+)|alter table (\w+)\s+add column (\w+) \w+)")


@pytest.mark.parametrize("folder", ["schema", "schema_contacts"])
def test_a_migration_makes_a_table_or_adds_a_column_and_its_grain_is_the_key(folder):
    key = "select unnest(constraint_column_names) as name from duckdb_constraints() where "
    key += "constraint_type = 'PRIMARY KEY' and table_name = $table_name"
    with duckdb.connect() as connection:
        for query in folder_queries(folder):
            connection.execute(query.text)
            made, altered, added = MIGRATION.match(statement(query)).groups()
            named = {"table_name": made or altered}
            columns = fetch(connection, read_query("columns").text, named)
            keys = fetch(connection, key, named)["name"].to_list()
            assert set(query.grain) <= set(columns["column_name"]), query.name
            assert not keys or tuple(keys) == query.grain, query.name
            if added:  # DuckDB sets no such column not null, and older records do not hold it
                nullable = dict(columns.select("column_name", "is_nullable").iter_rows())
                assert nullable[added], query.name
