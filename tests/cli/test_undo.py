"""planner loads, undo and withdraw, as an officer types them."""

from __future__ import annotations

import datetime as dt

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.queries.given import frame

NEEDS_MENDING = 2


@pytest.fixture
def folder(tmp_path):
    with (
        open_store(tmp_path) as store,
        writing(store, written_at=dt.datetime(2026, 7, 1)) as writer,
    ):
        for number in (1, 2):
            load_id = writer.begin_load(f"costs {number}.csv", f"mark {number}")
            writer.write(load_id, "costs", frame("costs", [{"cost_id": f"C{number}"}]))
    return tmp_path


def planner(folder, *words):
    return CliRunner().invoke(app, [*words, "--program", str(folder)])


def costs(folder):
    with open_store(folder, read_only=True) as store:
        return store.records("costs")["cost_id"].to_list()


def test_a_load_is_listed_taken_back_and_listed_as_such(folder):
    assert "costs 2.csv" in planner(folder, "loads").output
    dry = planner(folder, "undo", "L0002", "--dry-run")
    assert "costs: 1 removed, 0 restored" in dry.output
    assert costs(folder) == ["C1", "C2"]
    assert "undone" in planner(folder, "undo", "L0002").stdout
    assert costs(folder) == ["C1"]
    today = f"{dt.datetime.now(dt.UTC):%Y-%m-%d}"
    (line,) = [line for line in planner(folder, "loads").output.splitlines() if "L0002" in line]
    assert today in line


def test_a_record_is_withdrawn_and_brought_back(folder):
    assert "can be withdrawn" in planner(folder, "withdraw", "costs", "C1", "--dry-run").output
    assert costs(folder) == ["C1", "C2"]
    withdrawn = planner(folder, "withdraw", "costs", "C1")
    assert "planner undo L0003" in withdrawn.output
    assert costs(folder) == ["C2"]
    assert planner(folder, "undo", "L0003").exit_code == 0
    assert costs(folder) == ["C1", "C2"]


def test_what_cannot_be_taken_back_needs_mending(folder):
    refused = planner(folder, "undo", "L0009")
    assert refused.exit_code == NEEDS_MENDING
    assert "no such load" in refused.output
