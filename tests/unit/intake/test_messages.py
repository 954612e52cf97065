"""The list of refusals opens right in a spreadsheet and runs nothing there."""

from __future__ import annotations

import time

import polars as pl
import pytest

from planner.intake.problems import SCHEMA, refused_list
from tests.unit.intake.told import sentences

PROBLEM = {
    "table_name": "answers",
    "record_key": "W1 | H1",
    "file": "survey_2025.xlsx",
    "sheet": "answers",
    "row_number": 14,
    "column_name": "fed_kg_last_week",
    "heading": "",
    "value": "2-3",
    "reason": "not a number",
    "expected": "a number of kg. Write the middle, 2.5, or leave it empty.",
}


def frame(**changes):
    return pl.DataFrame([{**PROBLEM, **changes}], schema=SCHEMA)


def test_a_problem_is_one_sentence_of_place_found_expected_and_what_to_do():
    assert sentences(frame()) == [
        'survey_2025.xlsx, sheet answers, row 14, fed_kg_last_week: found "2-3", expected a '
        "number of kg. Write the middle, 2.5, or leave it empty."
    ]


def test_an_empty_cell_and_a_text_file_are_told_as_such():
    told = sentences(frame(value="", reason="empty", sheet=""))
    assert told[0].startswith("survey_2025.xlsx, row 14, fed_kg_last_week: found nothing, expected")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", " ="])
def test_no_text_is_written_that_a_spreadsheet_would_run(start):
    content = refused_list(frame(value=f'{start}HYPERLINK("x")', sheet=f"{start}1"))
    assert content.startswith(b"\xef\xbb\xbf")
    written = pl.read_csv(content, infer_schema=False).row(0, named=True)
    assert written["value"] == f'\'{start}HYPERLINK("x")'
    assert written["sheet"] == f"'{start}1"


UNSEEN = ("200B", "FEFF", "00AD", "202E", "2066", "2028", "0085", "E0041")


@pytest.mark.parametrize("name", ["001B", "FFFE", "0007", *UNSEEN])
def test_a_character_that_no_output_can_hold_or_nobody_sees_is_refused_in_a_key(read, name):
    sign = chr(int(name, 16))
    rows = f"cost_id,cost_date,category,amount\nC1,2025-07-01,bins,5\nC{sign}2,2025-07-01,bins,5\n"
    (file,) = read({"costs.csv": rows})
    (said,) = sentences(file.problems())
    assert "row 3, cost_id" in said
    assert f"with the character U+{name}" in said
    assert sign not in said
    assert file.sheets[0].good()["cost_id"].to_list() == ["C1"]


def test_a_word_of_a_million_letters_is_refused_in_no_time(read):
    head = "cost_id,cost_date,category,amount\n"
    began = time.process_time()
    (file,) = read({"costs.csv": f"{head}C1,2025-07-01,{'x' * 2_000_000},5\n"})
    assert file.problems().height == 1
    # to hold it against the codes letter by letter took 1.5 s
    assert time.process_time() - began < 1


def test_infinity_is_no_whole_number(read):
    head = "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    head += "kerbside_service,is_priority\n"
    (file,) = read({"areas.csv": f"{head}A1,North,inf,1,1,1e999,residual_only,no\n"})
    columns = file.problems()["column_name"].to_list()
    assert columns == ["houses_count", "residents_count"]
