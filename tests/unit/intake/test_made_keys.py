"""Rows that nobody numbered: each has a key of its own, the same whenever it is loaded."""

from __future__ import annotations

import datetime as dt

import openpyxl
import polars as pl
import pytest

from planner.errors import IntakeError
from planner.intake.refused_copy import TWICE, Refused, refused_copy
from planner.tables import MADE_KEYS, TABLES
from tests.unit.intake.conftest import nothing_known
from tests.unit.intake.told import sentences

GIVEN = "household_id,handover_date,model_id,worms_kg,bedding_kg\n"
LEDGER = "cost_date,category,amount\n"


def known_households(table):
    if table == "households":
        return pl.DataFrame({"household_id": ["H1", "H2"]})
    if table == "handovers":
        return pl.DataFrame({"handover_id": ["B7"], "household_id": ["H2"]})
    return nothing_known(table)


def keys(files, table):
    (rows,) = (rows for file in files for rows in file.sheets if rows.table == table)
    return rows.good()[TABLES[table].primary_key()[0]].to_list()


def test_a_hand_over_is_known_by_its_household_and_day_in_whatever_row_it_stands(read):
    first = "H1,4/3/2026,two_tray,0.45,0.5\n"
    second = "H2,5/3/2026,two_tray,0.45,0.5\n"
    short = keys(read({"handovers.csv": GIVEN + first}, known_households), "handovers")
    long = keys(read({"handovers.csv": GIVEN + second + first}, known_households), "handovers")
    assert short == ["H1-2026-03-04"]
    assert long == ["H2-2026-03-05", *short]


def test_a_hand_over_typed_twice_is_one_and_two_that_differ_are_refused(read):
    row = "H1,4/3/2026,two_tray,0.45,0.5\n"
    (rows,) = read({"handovers.csv": GIVEN + row + row}, known_households)[0].sheets
    assert (rows.good().height, rows.repeated_count) == (1, 1)
    other = "H1,4/3/2026,two_tray,0.25,0.5\n"
    (rows,) = read({"handovers.csv": GIVEN + row + other}, known_households)[0].sheets
    assert rows.good()["worms_kg"].to_list() == [0.45]
    assert rows.problems["row_number"].to_list() == [3]
    (line,) = sentences(rows.problems)
    assert 'household_id: found "H1"' in line
    assert "or give each row a handover_id" in line


def test_two_bins_of_a_day_are_marked_at_their_household_in_the_copy_to_fix(read, tmp_path):
    rows = "H1,4/3/2026,two_tray,0.45,0.5\nH1,4/3/2026,two_tray,0.25,0.5\n"
    (found,) = read({"handovers.csv": GIVEN + rows}, known_households)[0].sheets
    copy = tmp_path / "copy.xlsx"
    copy.write_bytes(refused_copy([Refused(found, found.problems)], "L0001", "en_GB"))
    *_, last = openpyxl.load_workbook(copy).active.values
    (marked,) = [cell for cell in last if str(cell).endswith(" H1")]
    assert marked.startswith(TWICE)


def test_two_ledger_lines_that_say_the_same_are_two(read):
    line = "4/3/2026,worms,150.00\n"
    files = read({"costs.csv": LEDGER + line + line + "5/3/2026,worms,150\n"})
    assert files[0].sheets[0].good()["amount"].sum() == 450.0
    assert keys(files, "costs") == [
        "2026-03-04-worms-150",
        "2026-03-04-worms-150-2",
        "2026-03-05-worms-150",
    ]


def test_a_row_without_its_day_is_refused_for_that_alone(read):
    (rows,) = read({"costs.csv": LEDGER + ",worms,150\n,worms,150\n"})[0].sheets
    assert rows.problems.select("row_number", "column_name").rows() == [
        (2, "cost_date"),
        (3, "cost_date"),
    ]


def test_numbers_of_the_officers_own_are_kept(read):
    files = read({"costs.csv": "cost_id," + LEDGER + "J-17,4/3/2026,worms,150\n"})
    assert keys(files, "costs") == ["J-17"]


def test_what_makes_the_key_is_asked_for_and_not_the_key(read):
    with pytest.raises(IntakeError) as refused:
        read({"costs.csv": "category,amount\nworms,150\n"})
    assert "cost_date" in str(refused.value)
    assert "cost_id" not in str(refused.value)


def test_a_bin_that_came_back_may_be_named_by_its_household(read):
    back = "handover_id,giveback_date,is_reissued\nH2,1/6/2026,no\nH1,1/6/2026,no\n"
    (rows,) = read({"givebacks.csv": back}, known_households)[0].sheets
    assert rows.good()["handover_id"].to_list() == ["B7"]
    assert rows.problems["row_number"].to_list() == [3]
    assert rows.good()["giveback_date"].to_list() == [dt.date(2026, 6, 1)]


@pytest.mark.parametrize("table", MADE_KEYS)
def test_every_made_key_is_of_columns_of_its_own_table(table):
    assert set(MADE_KEYS[table]) <= set(TABLES[table].column_names())
    assert len(TABLES[table].primary_key()) == 1
