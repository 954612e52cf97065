"""planner due and the bare command, from the command line."""

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.messages import messages_for
from tests.programs.conftest import copy_loaded

RUNNER = CliRunner()


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    folder = tmp_path_factory.mktemp("due")
    copy_loaded(folder, "valdorra")
    return folder


def test_the_bare_command_says_what_is_due_in_a_program_folder(program, monkeypatch):
    monkeypatch.chdir(program)
    bare = RUNNER.invoke(app, [])
    assert bare.exit_code == 0, bare.output
    assert "Con retraso, o por hacer ahora:" in bare.stdout
    assert "planner backup" in bare.stdout
    assert bare.stdout == RUNNER.invoke(app, ["due"]).stdout


def test_the_bare_command_is_help_anywhere_else(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    bare = RUNNER.invoke(app, [])
    assert bare.exit_code == 0
    assert bare.stdout == RUNNER.invoke(app, ["--help"]).stdout


def test_due_writes_a_calendar_and_a_pack_where_asked(program, tmp_path):
    calendar, pack = tmp_path / "year.ics", tmp_path / "pack"
    words = ["due", "--program", str(program), "--as-of", "2025-09-01"]
    ended = RUNNER.invoke(app, [*words, "--calendar", str(calendar), "--successor", str(pack)])
    assert ended.exit_code == 0, ended.output
    assert calendar.read_bytes().startswith(b"BEGIN:VCALENDAR")
    assert str(pack / "read-first.docx") in ended.stdout
    again = RUNNER.invoke(app, [*words, "--successor", str(pack)])
    assert again.exit_code == 2
    assert messages_for("es_ES").say("pack.there", path=str(pack)) in again.output
