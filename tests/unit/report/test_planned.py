"""The plan of the year beside its result: the rule of its words, and where it is shown."""

from __future__ import annotations

import docx
import openpyxl
import pytest

from planner.figures import Figure, FigureRegister
from planner.report.document import Table
from planner.report.document.building import build_document
from planner.report.document.earlier import against_plan
from planner.report.document.saying import Saying
from planner.report.page import write_page
from planner.report.word.writing import write_word
from planner.report.wording import Wording, worded
from planner.report.workbook.writing import write_workbook
from tests.unit.report import fuller, synthetic

CAPTION = "Each figure of the plan beside its result"


def two(plan, came, name="fed_t"):
    """Register of a planned and a measured figure, each value, low, high."""
    made = FigureRegister("Town", "2025-26", "1")
    made.add(Figure(name, "Fed", *came, "t", ""))
    made.add(Figure(f"planned[{name}]", "Planned", *plan, "t", ""))
    return Saying(made, Wording())


@pytest.mark.parametrize(
    ("plan", "came", "word"),
    [
        ((10.0, 8.0, 12.0), (11.9, 9.0, 14.0), "inside the plan"),
        ((10.0, 8.0, 12.0), (12.0, 11.0, 13.0), "inside the plan"),
        ((10.0, 8.0, 12.0), (12.5, 11.0, 14.0), "above the plan, not clearly"),
        ((10.0, 8.0, 12.0), (14.0, 12.1, 16.0), "above the plan"),
        ((10.0, 8.0, 12.0), (7.0, 6.0, 8.0), "below the plan, not clearly"),
        ((10.0, 8.0, 12.0), (7.0, 6.0, 7.9), "below the plan"),
        ((10.0, None, None), (10.0, None, None), "inside the plan"),
        ((10.0, None, None), (9.0, None, None), "below the plan"),
        ((10.0, None, None), (9.0, 7.0, 11.0), "below the plan, not clearly"),
        ((10.0, 8.0, 12.0), (None, None, None), None),
    ],
)
def test_words_follow_the_rule_that_stands_under_the_table(plan, came, word):
    judged = against_plan(two(plan, came), "fed_t")
    assert (judged and worded(judged)) == word


def planned_tables(document):
    found = [part for section in document.sections for part in section.parts]
    return [
        block
        for part in found
        if part.key == "planned"
        for block in part.blocks
        if isinstance(block, Table)
    ]


def test_each_number_of_plan_and_result_carries_its_figure():
    (table,) = planned_tables(build_document(fuller.contents()))
    row = next(row for row in table.rows if "landfill" in row[0].words)
    name = "kept_out_of_landfill_t"
    assert [cell.figure_ids for cell in row[1:5]] == [
        *[(f"planned[{name}]",)] * 2,
        *[(name,)] * 2,
    ]
    assert [cell.words for cell in row[1:3]] == ["9.6", "8.8 to 11.0"]


def test_a_sentence_tells_the_tonnes_of_plan_and_result():
    document = build_document(fuller.contents())
    part = next(part for part in document.section("results").parts if part.key == "planned")
    said = part.blocks[0].statements[-1]
    assert set(said.figure_ids) == {"planned[kept_out_of_landfill_t]", "kept_out_of_landfill_t"}
    # 7.742 t came, and the plan was 9.6 t, from 8.8 t
    assert said.words.startswith("Fewer scraps were kept out of landfill than planned")


def test_without_a_plan_nothing_is_said_of_one(tmp_path):
    made = synthetic.register()
    assert planned_tables(build_document(fuller.contents(made=made))) == []
    path = tmp_path / "report.xlsx"
    contents = fuller.contents(made=made)
    write_workbook(path, contents, build_document(contents))
    assert "Plan and result" not in openpyxl.load_workbook(path).sheetnames


def test_word_document_page_and_workbook_show_the_plan(tmp_path):
    contents = fuller.contents()
    document, register = build_document(contents), contents.register
    paths = [tmp_path / f"report.{kind}" for kind in ("docx", "html", "xlsx")]
    write_word(paths[0], document, register)
    write_page(paths[1], document)
    write_workbook(paths[2], contents, document)
    assert any(CAPTION in one.text for one in docx.Document(paths[0]).paragraphs)
    assert CAPTION in paths[1].read_text(encoding="utf-8")
    sheet = openpyxl.load_workbook(paths[2])["Plan and result"]
    rows = [
        row for row in sheet.iter_rows(values_only=True) if str(row[0]).startswith("Bins given")
    ]
    assert rows == [("Bins given in the year, bins", 450, None, 472, None, "above the plan")]
