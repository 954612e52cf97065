"""A command that is written wrongly is told so in the council's language, with exit code 2."""

from __future__ import annotations

import re

import pytest
import typer
from typer.testing import CliRunner

from planner.cli import app

WRONG = {
    "load": "FILES",
    "load --foo": "--foo",
    "lod a.xlsx": "'load', 'loads'",
    "report --year": "--year",
    "report extra": "extra",
    "sample F3 --kind other": "'baseline', 'followup'",
    "due --days x": "--days",
}
ENGLISH = re.compile(r"\b(?:usage|missing|no such|error|try|invalid|expected|is not|input)\b", re.I)


@pytest.mark.parametrize("language", ["en", "fr", "es"])
@pytest.mark.parametrize("line", WRONG)
def test_a_wrong_command_is_told_in_the_councils_language(monkeypatch, tmp_path, line, language):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LC_ALL", f"{language}_XX")
    ended = CliRunner().invoke(app, line.split())
    assert ended.exit_code == 2
    assert WRONG[line] in ended.output.splitlines()[-1]
    if language != "en":
        assert not ENGLISH.search(ended.output), ended.output
    else:
        # what the library says of its own is not what an officer would say
        assert not re.search(r"Missing|No such|Invalid|Got unexpected|Error:", ended.output)


@pytest.mark.parametrize("name", sorted(typer.main.get_command(app).commands))
def test_help_says_what_to_write_in_an_officers_words(name):
    """No types of the language it is written in, no signs of mathematics, no doubled brackets."""
    text = CliRunner().invoke(app, [name, "--help"]).output
    assert not re.search(r"<\w|\w>|<=|>=|[{}]|\[\[|\]\]", text), text


def test_help_says_from_where_to_where_a_number_may_go():
    text = " ".join(CliRunner().invoke(app, ["sample", "--help"]).output.split())
    assert "--margin NUMBER" in text
    assert "[default: 0.05; 0.001 to 0.5]" in text
    assert "[1 or more]" in text
