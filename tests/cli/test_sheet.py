"""planner sheet, from the command line."""

import stat

import openpyxl
import pytest
from typer.testing import CliRunner

from planner.cli import app
from tests.programs.conftest import copy_loaded

RUNNER = CliRunner()


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheet")
    copy_loaded(folder, "valdorra")
    return folder


def asked(program, *words):
    return RUNNER.invoke(app, ["sheet", *words, "--program", str(program)])


def test_sheets_and_letters_are_written_and_names_stay_private(program):
    ended = asked(program, "--letters")
    assert ended.exit_code == 0, ended.output
    made = {path.name for path in (program / "sheets").iterdir()}
    assert made == {"worm-bin-es.docx", "worm-bin-es.html", "thank-you-letter-es.docx"}
    private = program / "private" / "thank-you-letters.xlsx"
    assert stat.S_IMODE(private.stat().st_mode) == 0o600
    rows = list(openpyxl.load_workbook(private)["letters"].iter_rows(min_row=2, values_only=True))
    assert rows[0][0] == "household_id"
    assert len(rows) > 50
    # no report was written yet, so that no letter tells a result
    assert "0 reciben un resultado" in ended.stdout
    again = asked(program, "--letters")
    assert again.exit_code == 2
    assert "--force" in again.output


def test_another_language_and_a_wrong_one(program):
    french = asked(program, "--language", "fr")
    assert french.exit_code == 0, french.output
    assert "worm-bin-fr.docx" in french.stdout
    german = asked(program, "--language", "de")
    assert german.exit_code == 2
    assert "en, es, fr" in german.output


def test_our_template_is_handed_out_to_be_changed(program, tmp_path):
    target = tmp_path / "ours.docx"
    assert asked(program, "--copy-template", str(target)).exit_code == 0
    ended = asked(program, "--template", str(target), "--force")
    assert ended.exit_code == 0, ended.output
    wrong = asked(program, "--model", "barrel")
    assert wrong.exit_code == 2
    assert "caja_dos" in wrong.output
