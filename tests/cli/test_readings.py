"""Doubtful readings and names are proposed once, confirmed once, noted and undone with the load."""

from __future__ import annotations

import re

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.loading import load_files
from planner.paths import PROGRAM_FILE
from planner.store.migrations import utc_now
from planner.store.opening import open_store
from planner.store.undoing import undo_load

runner = CliRunner()
COSTS = "cost_id;cost_date;category;amount\n"
RECEIPTS = "".join(f"R{n};3/3/2025;recettes;({n},50 €)\n" for n in range(1, 14))
AREAS = (
    "area_id;area_name;houses_count;townhouses_count;apartments_count;residents_count;"
    "kerbside_service;is_priority\n"
    "LM;Les Maraîchers;9;0;0;20;residual_only;non\nCV;Centre-Ville;9;0;0;20;residual_only;oui\n"
)
HOUSEHOLDS = "household_id;area_id;dwelling;people_count;registered_date;may_contact\n"


@pytest.fixture
def folder(begun):
    path = begun / PROGRAM_FILE
    text = path.read_text("utf-8").replace('"en_GB"', '"fr_FR"').replace('"GBP"', '"EUR"')
    path.write_text(text, "utf-8")
    return begun


def file(folder, name, text):
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def records(folder, table, *columns):
    with open_store(folder, read_only=True) as store:
        return store.records(table).select(columns).rows()


def load(folder, path, *accepted):
    words = [word for one in accepted for word in ("--accept", one)]
    return runner.invoke(app, ["load", str(path), "--program", str(folder), *words])


def test_receipts_in_brackets_wait_for_one_yes_and_never_become_costs(folder):
    path = file(folder, "costs.csv", COSTS + RECEIPTS)
    ended = load(folder, path)
    assert ended.exit_code == 3
    words = " ".join(ended.stdout.split())
    (said,) = re.findall(r"costs\.csv, 13 lignes, 2, 3, 4, 5, 6 \.\.\..*", words)
    assert said.count("pourrait être mal lu") == 1
    assert "--accept 'costs.amount.brackets'" in said
    assert records(folder, "costs", "amount") == []
    again = load(folder, path, "costs.amount.brackets")
    assert again.exit_code == 0
    assert sum(amount for (amount,) in records(folder, "costs", "amount")) == -sum(
        n + 0.5 for n in range(1, 14)
    )


def test_what_was_confirmed_is_noted_with_the_load_and_goes_with_it(folder):
    path = file(folder, "costs.csv", COSTS + RECEIPTS + "C1;3/3/2025;bins;15 €\n")
    load(folder, path, "costs.amount.brackets")
    with open_store(folder, read_only=True) as store:
        columns = ("load_id", "column_name", "kind", "cells_count")
        noted = store.query("load_readings_of").select(columns).rows()
    assert noted == [("L0001", "amount", "brackets", 13), ("L0001", "amount", "unit", 1)]
    listed = runner.invoke(app, ["loads", "--program", str(folder)]).stdout
    plain = " ".join(listed.split())
    assert "L0001, amount : 13 cellules, des parenthèses sont lues comme un signe moins :" in plain
    undo_load(folder, "L0001", utc_now())
    with open_store(folder, read_only=True) as store:
        assert store.query("load_readings_of").is_empty()
        assert store.records("costs").is_empty()


def test_whoever_is_asked_is_asked_once_for_a_column(folder):
    path = file(folder, "costs.csv", COSTS + RECEIPTS)
    asked = []

    def confirm(proposal):
        asked.append(proposal)
        return True

    (loaded,) = load_files(folder, [path], confirm=confirm).files
    assert [(one.name, one.count) for one in asked] == [("costs.amount.brackets", 13)]
    assert asked[0].examples[0] == "«\xa0(1,50 €)\xa0» lu comme -1,5"
    assert len(asked[0].examples) == 3
    assert loaded.problems.is_empty()


def test_names_of_areas_are_read_and_near_ones_confirmed_once_each(folder):
    rows = "".join(
        f"H{n};{name};house;2;3/3/2025;oui\n"
        for n, name in enumerate(
            ["Les Maraîchers", "LES MARAICHERS", "lm", "CV", "Centre-Vile"] * 9
        )
    )
    files = [file(folder, "areas.csv", AREAS), file(folder, "households.csv", HOUSEHOLDS + rows)]
    loaded = load_files(folder, files).files[1]
    assert loaded.counts["new_count"].to_list() == [36]
    assert [one.name for one in loaded.proposals] == ["households.area_id.Centre-Vile"]
    ended = load(folder, files[1], "households.area_id.Centre-Vile")
    assert ended.exit_code == 0
    areas = [area for (area,) in records(folder, "households", "area_id")]
    assert (areas.count("LM"), areas.count("CV")) == (27, 18)


def test_grams_far_days_and_shares_of_100_are_asked_and_not_stored(folder):
    load_files(folder, [file(folder, "areas.csv", AREAS)])
    rows = "H1;LM;house;2;3/3/2025;oui\nH2;LM;house;2;3/3/2003;oui\n"
    load_files(folder, [file(folder, "h.csv", HOUSEHOLDS + rows)])
    head = "handover_id;household_id;model_id;handover_date;worms_kg;bedding_kg\n"
    given = head + "1;H1;two_tray;3/3/2025;450;1\n2;H1;two_tray;3/3/2025;0,4;1\n"
    (loaded,) = load_files(folder, [file(folder, "handovers.csv", given)]).files
    assert [one.name for one in loaded.proposals] == ["handovers.worms_kg.grams"]
    assert loaded.counts["new_count"].to_list() == [1]
    head = (
        "wave_id;household_id;answer_date;prior_residual_bin_share;prior_garden_compost_share;"
        "prior_kerbside_organics_share;prior_animals_share;prior_other_share\n"
    )
    wave = "wave_id;wave_kind;opens_date;closes_date\nB;baseline;1/3/2025;30/3/2025\n"
    answers = head + "B;H1;3/3/2025;60;20;10;10;0\n"
    paths = [file(folder, "waves.csv", wave), file(folder, "answers.csv", answers)]
    loaded = load_files(folder, paths).files[1]
    assert {one.kind for one in loaded.proposals} == {"hundredths"}
    accepted = frozenset(one.name for one in loaded.proposals)
    load_files(folder, paths, accepted=accepted)
    shares = records(folder, "answers", "prior_residual_bin_share", "prior_other_share")
    assert shares == [(pytest.approx(0.6), 0.0)]
    assert records(folder, "households", "household_id") == [("H1",)]
