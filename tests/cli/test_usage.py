"""A command that is written wrongly is told so in the council's language, with exit code 2."""

from __future__ import annotations

import re

import pytest
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
