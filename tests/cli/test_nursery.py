"""planner nursery on a sample program: what it needs, says and writes."""

import datetime as dt

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.messages import messages_for
from planner.paths import PROGRAM_FILE
from tests.programs.conftest import copy_loaded

RUNNER = CliRunner()
SPANISH = messages_for("es_ES")
BLOCK = "\n[nursery]\nbed_area_m2 = 60.0\nworms_price_per_kg = 55.0\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("valdorra")
    copy_loaded(place, "valdorra")
    return place


def ended(folder, *words):
    return RUNNER.invoke(app, ["nursery", *words, "--program", str(folder)])


def test_without_a_block_it_says_what_to_write(folder):
    assert "[nursery]" not in (folder / PROGRAM_FILE).read_text("utf-8")
    result = ended(folder, "--from", "2025-01-06")
    assert result.exit_code == 2
    assert "[nursery]" in result.output
    assert "bed_area_m2" in result.output


def test_with_a_block_it_decides_and_names_its_files(folder):
    path = folder / PROGRAM_FILE
    text = path.read_text("utf-8")
    path.write_text(text.replace("draws_count = 1000", "draws_count = 100") + BLOCK, "utf-8")
    result = ended(folder, "--from", "2025-01-06", "--until", "2025-12-31")
    assert result.exit_code == 0, result.output
    verdicts = {SPANISH.text(f"nursery.verdict.{name}") for name in ("less", "more", "same")}
    assert any(words in result.output for words in verdicts)
    assert (folder / "nursery" / "nursery.xlsx").exists()
    assert SPANISH.say("ordering.not_bred") in result.output


def test_no_hand_over_days_ahead_are_told(folder):
    result = ended(folder, "--from", "2090-01-01")
    assert result.exit_code == 2
    words = SPANISH.say("order.fail.no_days", first=dt.date(2090, 1, 1), last="")
    assert words.partition(",")[0] in " ".join(result.output.split())
