"""Each query of stage/ and summary/ returns the rows worked out by hand for given rows."""

from __future__ import annotations

import pytest

from planner.store.opening import open_store
from planner.store.queries import folder_queries
from tests.queries import (
    aftercare_cases,
    booking_cases,
    buying_cases,
    check_cases,
    edge_cases,
    money_cases,
    retention_cases,
    sampling_cases,
    sizing_cases,
    stage_cases,
    summary_cases,
    supplies_cases,
    survey_cases,
    test_store_queries,
)
from tests.queries.given import answer_of

CASES = [
    *aftercare_cases.CASES,
    *booking_cases.CASES,
    *buying_cases.CASES,
    *check_cases.CASES,
    *edge_cases.CASES,
    *money_cases.CASES,
    *sampling_cases.CASES,
    *sizing_cases.CASES,
    *stage_cases.CASES,
    *summary_cases.CASES,
    *supplies_cases.CASES,
    *retention_cases.CASES,
    *survey_cases.CASES,
]


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """Open one store, which each case leaves as empty as it was."""
    with open_store(tmp_path_factory.mktemp("empty")) as store:
        yield store


@pytest.mark.parametrize("case", CASES, ids=str)
def test_given_rows_give_the_expected_rows(empty, case):
    assert answer_of(empty, case) == case.rows


@pytest.mark.parametrize("folder", ["check", "stage", "summary"])
def test_every_query_has_a_case(folder):
    asked = {case.query for case in CASES} | set(test_store_queries.SHOWN)
    assert {query.name for query in folder_queries(folder)} <= asked


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_case_gives_the_parameters_that_the_header_names(case):
    folders = ("check", "stage", "summary")
    query = {found.name: found for folder in folders for found in folder_queries(folder)}
    assert set(case.params) == set(query[case.query].params)
