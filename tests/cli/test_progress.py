"""planner progress in a year without a survey, and what may be said before a report is issued."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
from docx import Document
from openpyxl import load_workbook
from typer.testing import CliRunner

from planner.cli import app
from planner.figures import read_register
from planner.paths import FIGURES_FILE, PROGRAM_FILE, TEMPLATES
from tests.queries.given import store_with

HOMES = [f"H{n:02d}" for n in range(30)]
GIVEN = {
    "areas": [{"area_id": "A", "houses_count": 900, "residents_count": 2000}],
    "households": [
        {"household_id": home, "registered_date": dt.date(2026, 5, 4)} for home in HOMES
    ],
    "handovers": [
        {"handover_id": home, "household_id": home, "handover_date": dt.date(2026, 6, 6)}
        for home in HOMES
    ],
    "costs": [{"cost_id": "C", "cost_date": dt.date(2026, 6, 8), "amount": 1800.0}],
}


def planner(folder, *words, code=0):
    ended = CliRunner().invoke(app, [*words, "--program", str(folder)])
    assert ended.exit_code == code, ended.output
    return ended


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Say how a year goes in which 30 bins were given out and nobody was asked."""
    folder = tmp_path_factory.mktemp("progress")
    shutil.copyfile(TEMPLATES / PROGRAM_FILE, folder / PROGRAM_FILE)
    with store_with(folder, GIVEN):
        pass
    return folder, planner(folder, "progress", "--as-of", "2026-09-01")


def test_a_year_that_the_program_file_does_not_know_is_asked_for(made):
    folder, _ = made
    told = planner(folder, "progress", "--as-of", "2027-04-01", code=2)
    assert 'Add a block with reporting_year = "2027-28"' in " ".join(told.stderr.split())


def test_a_page_of_what_is_counted_is_written_and_what_tonnes_need_is_said(made):
    folder, ended = made
    assert all(Path(line).is_file() for line in ended.stdout.splitlines())
    assert len(ended.stdout.splitlines()) == 3
    words = " ".join(ended.stderr.split())
    assert "30 bins given to 30 households, £1,800 spent" in words
    assert "Tonnes need a follow-up round with ten answers or more" in words
    assert "send committee.docx" in words
    assert "--as-of" not in words
    text = (folder / "progress" / FIGURES_FILE).read_text("utf-8")
    register = read_register(text)
    assert register["bins_given"].value == 30.0
    assert "kept_out_of_landfill_t" not in register


def test_a_report_of_what_is_counted_says_what_tonnes_need_and_is_no_issue(made):
    folder, _ = made
    asked = ("--as-of", "2026-09-01")
    refused = " ".join(planner(folder, "issue", *asked, code=2).stderr.split())
    assert "Tonnes need a follow-up round with ten answers or more" in refused
    written = planner(folder, "report", *asked)
    assert "planner explain bins_given" in " ".join(written.stdout.split() + written.stderr.split())
    missing = "No tonnes, emissions or cost per tonne are given yet."
    report = folder / "report"
    assert missing in (report / "year-end.html").read_text("utf-8")
    assert missing in "".join(part.text for part in Document(report / "brief.docx").paragraphs)
    first, *others = load_workbook(report / "year-end.xlsx")
    cells = [cell.value for row in first for cell in row if cell.value is not None]
    assert any(str(cell).startswith(missing) for cell in cells)
    assert 30 in cells
    assert {"Areas", "Months", "Money"} <= {sheet.title for sheet in others}


def test_a_page_that_nobody_outside_got_is_noted_by_its_number(made):
    folder, _ = made
    never = ("issue", "--reason", "sent to nobody", "--never-left")
    assert "There is: 1." in planner(folder, *never, "3", code=2).stderr
    assert "1" in planner(folder, *never, "1").stdout


def test_nothing_is_said_to_press_or_funder_that_no_report_or_grant_holds(made):
    folder, _ = made
    assert "No report has been issued." in planner(folder, "figure", "bins_given", code=2).stderr
    assert "No funder is called Nobody" in planner(folder, "acquit", "Nobody", code=2).stderr
