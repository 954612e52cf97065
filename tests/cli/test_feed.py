"""planner feed, from the command line."""

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.messages import messages_for
from tests.programs.conftest import copy_loaded

RUNNER = CliRunner()
SAID = messages_for("es_ES").say


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    folder = tmp_path_factory.mktemp("feed")
    copy_loaded(folder, "valdorra")
    return folder


def asked(program, *words):
    return RUNNER.invoke(app, ["feed", *words, "--program", str(program)])


def test_feed_says_what_to_add_and_where_its_numbers_come_from(program):
    ended = asked(program, "vegetable_scraps=1,2", "coffee grounds=0.3", "--temperature", "20")
    assert ended.exit_code == 0, ended.output
    assert "1,50 kg" in ended.stdout
    assert SAID("material.newspaper") in ended.stdout
    assert "NRAES-54" in ended.stdout


def test_feed_of_a_household_takes_its_bin_and_answer(program):
    ended = asked(program, "--household", "VD-00003", "vegetable_scraps=1")
    assert ended.exit_code == 0, ended.output
    unknown = asked(program, "--household", "nobody")
    assert unknown.exit_code == 2
    assert SAID("fed.no_bin", household="nobody")[:30] in unknown.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("vegetable_scraps",), "no se encontró masa"),
        (("vegetable_scraps=1", "--model", "barrel"), "no está en program.toml"),
        ((), "nombre lo que se echa"),
    ],
)
def test_feed_says_what_to_write(program, words, said):
    ended = asked(program, *words)
    assert ended.exit_code == 2
    assert said in ended.output
