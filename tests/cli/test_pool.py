"""planner pool: exports of invented councils put together, with what is left out and refused."""

from __future__ import annotations

import tomllib

import numpy as np
import openpyxl
import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.figures import read_register
from planner.paths import FIGURES_FILE
from planner.pooling.contract import FEED, IN_USE, LANDFILLED, export_bytes
from tests.unit.pooling.councils import export, rate

NEEDS_MENDING = 2
HOUSE = f"{IN_USE}_house"
TITLE = "Six invented councils"


def pool(*words):
    return CliRunner().invoke(app, ["pool", *map(str, words)])


@pytest.fixture(scope="module")
def councils(tmp_path_factory):
    """Write six exports, one in another currency and one far from the others, and no export."""
    folder = tmp_path_factory.mktemp("exports")
    rng = np.random.default_rng(8)
    for n in range(6):
        values = {FEED: 3.0 if n == 5 else 1.4, HOUSE: 0.7, LANDFILLED: 0.8}
        rates = {name: rate(value, 0.05, rng, name) for name, value in values.items()}
        currency = "EUR" if n == 0 else "AUD"
        made = export(f"Council {n} (invented)", n + 1.0, n, rates, currency=currency)
        (folder / f"{n}.parquet").write_bytes(export_bytes(made))
    (folder / "y.parquet").write_bytes(b"not an export")
    return folder


@pytest.fixture(scope="module")
def pooled(councils, tmp_path_factory):
    folder = tmp_path_factory.mktemp("state") / "report"
    words = ("--title", TITLE, "--currency", "AUD", "--rate", "EUR=1.6", "--out", folder)
    ended = pool(councils, *words)
    assert ended.exit_code == 0, ended.output
    return folder, ended


def test_sums_are_printed_and_written_and_who_is_left_out_is_named(pooled):
    folder, ended = pooled
    register = read_register((folder / FIGURES_FILE).read_text("utf-8"))
    # by construction: council n has 400 (n + 1) bins and cost 100 (n + 1), the first in euros
    assert register["bins_given"].value == 400.0 * 21
    assert register["program_cost"].value == pytest.approx(100.0 * 20 + 160.0)
    words = " ".join(ended.stdout.split())
    assert f"{TITLE}, 2025-26" in words
    assert "8,400" in words
    assert "y.parquet" in words
    assert "no export of this program" in words


def test_every_file_named_is_there_and_says_the_sums(pooled):
    folder, ended = pooled
    names = {path.name for path in folder.iterdir() if path.name in ended.stdout}
    assert {"state.docx", "state.html", "state.xlsx", "priors.toml", FIGURES_FILE} <= names
    assert "8,400" in (folder / "state.html").read_text("utf-8")
    book = openpyxl.load_workbook(folder / "state.xlsx")
    rows = [row for sheet in book for row in sheet.values if row[0] == "Council 5 (invented)"]
    assert 2400.0 in rows[0]


def test_a_council_that_differs_is_told_and_one_that_joins_has_beliefs(pooled):
    folder, _ = pooled
    register = read_register((folder / FIGURES_FILE).read_text("utf-8"))
    above = {part: figure.value for part, figure in register.parts(f"{FEED}_chance_above").items()}
    assert [part for part, chance in above.items() if chance > 0.95] == ["council_5_invented"]
    priors = tomllib.loads((folder / "priors.toml").read_text("utf-8"))["sizing"]["priors"]
    # what was landfilled before is asked in each council
    assert set(priors) == {FEED, HOUSE}
    assert priors[HOUSE]["low"] < 0.7 < priors[HOUSE]["high"]
    assert TITLE in priors[FEED]["source"]


@pytest.mark.parametrize("given", ["EUR=none", "EUR=-1", "EUR"])
def test_a_rate_of_exchange_that_is_none_is_refused(councils, tmp_path, given):
    ended = pool(councils, "--rate", given, "--out", tmp_path / "state")
    assert ended.exit_code == NEEDS_MENDING
    assert given in ended.stderr
    assert not (tmp_path / "state").exists()


def test_councils_of_two_currencies_need_a_rate(councils, tmp_path):
    ended = pool(councils, "--currency", "AUD", "--out", tmp_path / "state")
    assert ended.exit_code == NEEDS_MENDING
    assert "EUR" in ended.stderr
