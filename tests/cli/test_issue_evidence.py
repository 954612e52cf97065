"""planner issue, evidence and explain --rows where they refuse: words, code 2, nothing lost.

What they do when all is well is tested with the sample programs, where the year is estimated.
"""

from __future__ import annotations

import shutil

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.figures import Figure, FigureRegister
from planner.paths import FIGURES_FILE, REPORT_FOLDER
from tests.cli.test_demo_report_explain import assert_mending, files_of

runner = CliRunner()


@pytest.fixture
def folder(started, tmp_path):
    """Give a program without records."""
    return shutil.copytree(started, tmp_path / "program")


def invoke(*line):
    return runner.invoke(app, [str(one) for one in line])


def test_issue_without_records_issues_nothing(folder):
    before = files_of(folder)
    assert_mending(invoke("issue", "--program", folder), "planner load")
    assert files_of(folder) == before
    assert not (folder / "issued").exists()


def test_issue_outside_a_program_folder_says_so(tmp_path):
    assert_mending(invoke("issue", "--program", tmp_path), "program.toml")
    assert list(tmp_path.iterdir()) == []


def test_a_day_of_issue_that_is_none_is_refused(folder):
    ended = invoke("issue", "--program", folder, "--date", "14.8.2026")
    assert ended.exit_code == 2
    assert "14.8.2026" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_evidence_without_records_leaves_no_folder_behind(folder, tmp_path):
    target = tmp_path / "pack"
    assert_mending(invoke("evidence", target, "--program", folder), "planner load")
    assert not target.exists()
    assert [one.name for one in tmp_path.iterdir()] == ["program"]


def test_evidence_leaves_a_folder_that_is_there_alone(folder, tmp_path):
    target = tmp_path / "pack"
    target.mkdir()
    (target / "mine.txt").write_text("kept")
    # told at once, before anything is estimated
    ended = invoke("evidence", target, "--program", folder)
    assert_mending(ended, f"{target}: is there already. Name one that is not.")
    assert files_of(target) == {"mine.txt": b"kept"}


def test_rows_of_a_figure_without_records_are_told_and_no_file_is_made(folder, tmp_path):
    register = FigureRegister("Town", "2025-26", "1")
    register.add(Figure("fed_t", "Fed", 1.0, None, None, "t", "Weighed."))
    (folder / REPORT_FOLDER).mkdir()
    (folder / REPORT_FOLDER / FIGURES_FILE).write_text(register.to_json(), "utf-8")
    target = tmp_path / "rows.csv"
    ended = invoke("explain", "fed_t", "--program", folder, "--rows", target)
    assert_mending(ended, "no records stand behind this figure")
    assert not target.exists()
