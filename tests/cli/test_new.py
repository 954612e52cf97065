"""planner new: a folder to start from, and nothing overwritten."""

from __future__ import annotations

import datetime as dt
import re
import shlex

import openpyxl
import pytest
from typer.testing import CliRunner

import planner
from planner.cli import app
from planner.paths import INTAKE_FILE, PROGRAM_FILE, TEMPLATES
from planner.program import read_program

runner = CliRunner()


def test_new_writes_a_program_file_and_a_workbook(tmp_path):
    folder = tmp_path / "worms" / "2026"
    ended = runner.invoke(app, ["new", str(folder)])
    assert ended.exit_code == 0
    assert ended.stdout.splitlines() == [str(folder / PROGRAM_FILE), str(folder / INTAKE_FILE)]
    assert "Next: " in ended.stderr
    assert read_program(folder / PROGRAM_FILE) == read_program(TEMPLATES / PROGRAM_FILE)
    assert (folder / INTAKE_FILE).stat().st_size > 0


def test_new_takes_what_is_known_of_the_council(tmp_path):
    words = ["--name", "Val-Serein (inventé)", "--country", "fr_FR", "--year", "2025"]
    assert runner.invoke(app, ["new", str(tmp_path), *words]).exit_code == 0
    program = read_program(tmp_path / PROGRAM_FILE)
    council = program.council
    assert (council.name, council.country_locale) == ("Val-Serein (inventé)", "fr_FR")
    # the euro is France's money (ISO 4217), and a year of one number begins in January
    assert (council.currency, council.report_language) == ("EUR", "fr")
    assert program.months("2025") == (dt.date(2025, 1, 1), dt.date(2026, 1, 1))
    assert openpyxl.load_workbook(tmp_path / INTAKE_FILE).sheetnames[0] == "À lire en premier"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--country", "fr"], "council.country_locale"),
        (["--currency", "POUND"], "council.currency"),
        (["--year", "2025-27"], "reporting_years"),
    ],
)
def test_new_leaves_nothing_where_an_answer_cannot_be(tmp_path, words, said):
    ended = runner.invoke(app, ["new", str(tmp_path), *words])
    assert ended.exit_code == 2
    assert said in ended.stderr
    assert list(tmp_path.iterdir()) == []


def test_new_refuses_a_folder_that_holds_a_program(tmp_path):
    runner.invoke(app, ["new", str(tmp_path)])
    before = (tmp_path / INTAKE_FILE).read_bytes()
    ended = runner.invoke(app, ["new", str(tmp_path)])
    assert ended.exit_code == 2
    assert "found a program already" in ended.stderr
    assert (tmp_path / INTAKE_FILE).read_bytes() == before


def test_force_makes_the_workbook_anew_and_keeps_the_program_file(tmp_path):
    runner.invoke(app, ["new", str(tmp_path)])
    own = (tmp_path / PROGRAM_FILE).read_text(encoding="utf-8").replace("Your council", "Marlow")
    (tmp_path / PROGRAM_FILE).write_text(own, encoding="utf-8")
    (tmp_path / INTAKE_FILE).unlink()
    assert runner.invoke(app, ["new", str(tmp_path), "--force"]).exit_code == 0
    assert (tmp_path / PROGRAM_FILE).read_text(encoding="utf-8") == own
    assert (tmp_path / INTAKE_FILE).exists()


def filled(folder):
    path = folder / INTAKE_FILE
    book = openpyxl.load_workbook(path)
    book["waves"].append(["W1", "baseline", "01/03/2025", "31/03/2025"])
    book.save(path)
    return path.read_bytes()


def test_force_keeps_a_filled_workbook_aside_and_says_where(tmp_path):
    runner.invoke(app, ["new", str(tmp_path)])
    first = filled(tmp_path)
    ended = runner.invoke(app, ["new", str(tmp_path), "--force"])
    second = filled(tmp_path)
    runner.invoke(app, ["new", str(tmp_path), "--force"])
    kept = sorted(tmp_path.glob("intake-before-*.xlsx"), key=lambda path: len(path.name))
    assert [path.read_bytes() for path in kept] == [first, second]
    assert str(kept[0]) in ended.stderr


def test_force_does_not_keep_a_workbook_with_nothing_in_it(tmp_path):
    runner.invoke(app, ["new", str(tmp_path)])
    runner.invoke(app, ["new", str(tmp_path), "--force"])
    assert not list(tmp_path.glob("intake-before-*"))


def test_the_next_commands_can_be_pasted_and_force_names_none_that_undoes(tmp_path):
    folder = tmp_path / "worms of 2026"
    first = runner.invoke(app, ["new", str(folder)])
    lines = [
        shlex.split(line) for line in first.stderr.splitlines() if line.startswith("  planner")
    ]
    book = str(folder / INTAKE_FILE)
    assert lines == [
        ["planner", "new", str(folder), "--force"],
        ["planner", "load", book, "--program", str(folder)],
    ]
    again = runner.invoke(app, ["new", str(folder), "--force"])
    assert "--force" not in again.stderr


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    ended = runner.invoke(app, ["new", str(tmp_path / "file" / "program")])
    assert ended.exit_code == 2
    assert "cannot be written" in ended.stderr


def test_the_version_is_printed():
    ended = runner.invoke(app, ["--version"])
    assert (ended.exit_code, ended.stdout) == (0, f"planner {planner.__version__}\n")


@pytest.mark.parametrize("command", app.registered_commands, ids=lambda command: command.name)
def test_help_begins_with_an_imperative_sentence_and_explains_each_option(command):
    ended = runner.invoke(app, [command.name, "--help"])
    assert ended.exit_code == 0
    first = (command.callback.__doc__ or "").splitlines()[0]
    assert first.endswith(".")
    assert not first.split()[0].endswith("s")
    assert first.split()[0] in ended.stdout
    options = re.split(r"\n\s+(?=--)", ended.stdout.partition("Options:")[2])
    told = [" ".join(option.split()) for option in options if option.strip().startswith("--")]
    assert told
    assert all(len(option.split()) > 2 for option in told)
