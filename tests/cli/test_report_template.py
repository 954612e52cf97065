"""A council's own Word template, and figures of reports that were kept, from the command line."""

from __future__ import annotations

import shutil

import docx
import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.messages import messages_for
from planner.paths import FIGURES_FILE, PROGRAM_FILE, REPORT_FOLDER, SAMPLE_PROGRAMS, TEMPLATES
from tests.unit.report import synthetic

runner = CliRunner()
SAID = messages_for("es_ES").say
MENDING = 2


def test_the_template_is_copied_once_and_over_itself_only_with_force(tmp_path):
    target = tmp_path / "our report.docx"
    asked = ["report", "--copy-template", str(target)]
    ended = runner.invoke(app, asked)
    assert ended.exit_code == 0
    assert target.read_bytes() == (TEMPLATES / "report.docx").read_bytes()
    assert f"planner report --template '{target}'" in ended.stderr
    target.write_text("ours")
    ended = runner.invoke(app, asked)
    assert ended.exit_code == MENDING
    assert "--force" in ended.stderr
    assert target.read_text() == "ours"
    assert runner.invoke(app, [*asked, "--force"]).exit_code == 0
    assert target.read_text(encoding="latin-1") != "ours"


def test_a_template_with_faults_ends_with_code_2_and_writes_nothing(tmp_path):
    shutil.copy(SAMPLE_PROGRAMS / "valdorra" / PROGRAM_FILE, tmp_path)
    word = docx.Document()
    word.add_paragraph("{{p sumary }}")
    word.add_paragraph("{{p money }}")
    template = tmp_path / "ours.docx"
    word.save(template)
    ended = runner.invoke(app, ["report", "--program", str(tmp_path), "--template", str(template)])
    assert ended.exit_code == MENDING
    hint = SAID("advice.near", near="summary")
    assert SAID("template.unknown", name="sumary", hint=hint) in ended.stderr
    assert "Traceback" not in ended.stderr
    assert not (tmp_path / REPORT_FOLDER).exists()


@pytest.fixture
def reported(tmp_path):
    """Keep a report of the year and one of an earlier year in its folder."""
    shutil.copy(SAMPLE_PROGRAMS / "valdorra" / PROGRAM_FILE, tmp_path)
    for year, place in (("2025-26", ""), ("2024-25", "2024-25")):
        register = synthetic.register()
        register.reporting_year = year
        folder = tmp_path / REPORT_FOLDER / place
        folder.mkdir(parents=True, exist_ok=True)
        (folder / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("asked", "year"),
    [([], "2025-26"), (["--year", "2024-25"], "2024-25"), (["--year", "2025/26"], "2025-26")],
)
def test_explain_takes_the_report_of_the_year_that_is_named(reported, asked, year):
    ended = runner.invoke(app, ["explain", "fed_t", "--program", str(reported), *asked])
    assert ended.exit_code == 0
    assert ended.stdout.splitlines()[1].endswith(f", {year}")


def test_explain_of_a_year_without_a_report_says_how_to_get_one(reported):
    ended = runner.invoke(
        app, ["explain", "fed_t", "--program", str(reported), "--year", "2019-20"]
    )
    assert ended.exit_code == MENDING
    assert "planner report --year 2019-20" in ended.stderr
