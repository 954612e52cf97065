"""Every query's header tells the truth about its text, and the text keeps to the style."""

from __future__ import annotations

import pkgutil
import re

import duckdb
import pytest

from planner.paths import QUERIES
from planner.store.connection import fetch
from planner.store.naming import link_parts, parts
from planner.store.queries import folder_queries, read_query
from tests.queries.given import all_queries

WIDEST = 88
FOR_TESTS = "tests of the store"
ROOT = QUERIES.parent
QUERY = pytest.mark.parametrize("query", all_queries(), ids=lambda query: query.name)
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
    return query.fill(**{**parts("contacts"), **link, **view, **file, **blank})


def test_every_file_of_queries_is_a_query_of_a_known_folder():
    files = {path.relative_to(QUERIES).as_posix() for path in QUERIES.rglob("*") if path.is_file()}
    assert files == {f"{query.folder}/{query.name}.sql" for query in all_queries()}
    assert {query.folder for query in all_queries()} == FOLDERS


@QUERY
def test_parameters_named_are_parameters_used(query):
    text = filled(query).partition("\n-- feeds:")[2]
    assert set(re.findall(r"\$(\w+)", text)) == set(query.params)


@QUERY
def test_relations_named_are_relations_read(query):
    text = LITERAL.sub("''", statement(query))
    steps = set(NAMED_STEP.findall(text))
    assert set(RELATION.findall(text)) - steps == set(query.reads)


@QUERY
def test_one_statement_a_file_without_a_semicolon(query):
    assert len(duckdb.extract_statements(filled(query))) == 1
    assert ";" not in statement(query)


@QUERY
def test_key_words_are_in_lower_case_and_lines_short(query):
    text = LITERAL.sub("''", statement(query))
    assert text == text.lower()
    assert max(len(line) for line in query.text.splitlines()) <= WIDEST
    assert query.text.endswith("\n")
    assert all(line == line.rstrip() for line in query.text.splitlines())


@QUERY
def test_the_header_says_what_a_row_is_and_who_uses_it(query):
    assert query.grain
    assert query.feeds


def users(query):
    """Find the queries that read this one under its name."""
    return {other.name for other in all_queries() if query.name in other.reads}


@pytest.mark.parametrize(
    "query", [q for q in all_queries() if q.folder == "stage"], ids=lambda query: query.name
)
def test_a_stage_query_feeds_exactly_the_queries_that_read_it(query):
    assert set(query.feeds) == users(query)


@pytest.mark.parametrize(
    "query",
    [q for q in all_queries() if q.folder in ("store", "summary")],
    ids=lambda query: query.name,
)
def test_a_query_that_is_run_feeds_what_is_there(query):
    if query.feeds == (FOR_TESTS,):
        return
    assert re.search(rf'(query|read_query)\(\s*"{query.name}"', SOURCE)
    for feed in query.feeds:
        assert pkgutil.resolve_name(f"planner.{feed}")


def test_two_queries_alone_are_for_tests():
    names = {query.name for query in all_queries() if FOR_TESTS in query.feeds}
    assert names == {"columns", "history"}


@QUERY
def test_an_insert_names_its_columns_whatever_their_order_in_the_file(query):
    into = re.findall(r"insert into \S+ ?(.*)", statement(query))
    assert all(rest == "by name" or rest.startswith("(") for rest in into), into


MIGRATION = re.compile(r"\s*(?:create table (\w+)|alter table (\w+)\s+add column (\w+) \w+)")


@pytest.mark.parametrize(
    "query",
    [q for q in all_queries() if q.folder.startswith("schema")],
    ids=lambda query: query.name,
)
def test_a_migration_makes_a_table_or_adds_a_column_and_its_grain_is_the_key(query):
    made, altered, added = MIGRATION.match(statement(query)).groups()
    key = "select unnest(constraint_column_names) as name from duckdb_constraints() where "
    key += "constraint_type = 'PRIMARY KEY' and table_name = $table_name"
    with duckdb.connect() as connection:
        for migration in folder_queries(query.folder):
            connection.execute(migration.text)
            if migration == query:
                break
        named = {"table_name": made or altered}
        columns = fetch(connection, read_query("columns").text, named)
        keys = fetch(connection, key, named)["name"].to_list()
    assert set(query.grain) <= set(columns["column_name"])
    assert not keys or tuple(keys) == query.grain
    if added:  # DuckDB sets no such column not null, and records made before do not hold it
        assert dict(columns.select("column_name", "is_nullable").iter_rows())[added]
