"""Files become rows taken in, repeated, skipped or refused, each with its place and reason."""

from __future__ import annotations

import datetime as dt
import itertools

import openpyxl
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import IntakeError
from planner.intake.reading import read_files
from planner.tables import TABLES, codes
from tests.unit.intake.told import sentences

WAVES = ["wave_id", "wave_kind", "opens_date", "closes_date"]
WAVE = ["W1", "baseline", "1/3/2025", "31/3/2025"]
COSTS = "cost_id,cost_date,category,amount\n"
HOUSEHOLDS = "household_id,area_id,dwelling,people_count,registered_date,channel,may_contact\n"
AREAS = (
    "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    "kerbside_service,is_priority\n"
)
AREA = "A1,North,10,0,0,30,residual_only,no\n"
HOUSEHOLD = "H1,A1,house,3,4/3/2025,,yes\n"


def only(files):
    """Return the one sheet of the one file."""
    assert len(files) == 1
    assert len(files[0].sheets) == 1
    return files[0].sheets[0]


def reasons(rows):
    found = rows.problems.sort("row_number").select("row_number", "column_name", "reason")
    return found.rows()


def test_true_row_numbers_survive_lines_above_the_headings_and_blank_rows(read):
    sheet = [["Survey rounds, kept by the waste team"], [], WAVES, [], WAVE, ["W2", "x"]]
    rows = only(read({"rounds.xlsx": {"Wave": sheet}}))
    assert rows.good()["row_number"].to_list() == [5]
    assert set(rows.problems["row_number"]) == {6}
    assert rows.skipped_count == 1


def test_headings_are_found_whatever_their_case_order_and_spaces(read):
    sheet = [
        ["Closes date", "WAVE-ID", " opens_DATE ", "Wave kind"],
        ["31/3/2025", "W1", "1/3/2025", "Baseline"],
    ]
    good = only(read({"b.xlsx": {"Sheet1": sheet}})).good()
    assert good.drop("row_number").rows() == [
        ("W1", "baseline", dt.date(2025, 3, 1), dt.date(2025, 3, 31), None)
    ]


def test_a_round_may_ask_again_of_one_in_the_same_sheet_and_of_none_that_is_not_there(read):
    again = [*WAVES, "follows_wave_id"]
    sheet = [again, ["S1", *WAVE[1:], "W1"], [*WAVE, None], ["S2", *WAVE[1:], "W9"]]
    rows = only(read({"rounds.xlsx": {"waves": sheet}}))
    assert rows.good()["wave_id"].to_list() == ["S1", "W1"]
    assert reasons(rows) == [(4, "follows_wave_id", "not among waves")]


@pytest.mark.parametrize("name", ["waves.csv", "Wave 2025.csv", "rounds.csv"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_text_files_of_every_separator_are_read(read, name, separator):
    text = "\n".join(separator.join(row) for row in (WAVES, WAVE))
    rows = only(read({name: text}))
    assert (rows.table, rows.good().height) == ("waves", 1)


def test_rows_end_as_spreadsheet_programs_end_them_whatever_systems_a_file_has_seen(read):
    lines = ["C1,2025-07-01,bins,5\r", 'C2,2025-07-01,"bi\r\nns",6\r\n', "C3,2025-07-01,bins,7\r"]
    rows = only(read({"costs.csv": (COSTS + "".join(lines)).encode()}))
    # CR, LF and CR LF end a row; within quotes they are text (RFC 4180, 2.6)
    assert (rows.rows_read, rows.good()["cost_id"].to_list()) == (3, ["C1", "C3"])
    assert reasons(rows)[0][:2] == (3, "category")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_text_files_of_every_usual_encoding_are_read(read, encoding):
    text = AREAS + AREA.replace("North", "Peña Würm")
    rows = only(read({"areas.csv": text.encode(encoding)}))
    assert rows.good()["area_name"].to_list() == ["Peña Würm"]


def test_date_and_number_cells_are_read_as_what_they_are(read):
    sheet = [
        ["cost_id", "cost_date", "category", "amount"],
        [12, dt.date(2025, 3, 4), "bins", 1234.5],
        [13, dt.datetime(2025, 3, 4, 15, 30), "worms", "1,234.50"],
    ]
    good = only(read({"ledger.xlsx": {"Cost": sheet}})).good()
    assert good["cost_id"].to_list() == ["12", "13"]
    assert good["cost_date"].to_list() == [dt.date(2025, 3, 4)] * 2
    assert good["amount"].to_list() == [1234.5, 1234.5]


def test_a_range_is_refused_with_its_middle(read):
    text = "household_id,week_start_date,fed_kg\nH1,3/3/2025,2-3\n"
    file = read({"weighings.csv": text})[0]
    told = [line for line in sentences(file.problems()) if "fed_kg" in line]
    assert told == [
        'weighings.csv, row 2, fed_kg: found "2-3", expected a number of kg from 0 to 60. '
        "Write the middle, 2.5."
    ]


def test_every_problem_of_a_row_is_told(read):
    rows = only(read({"costs.csv": COSTS + ",31/2/2025,binns,12 USD\n"}))
    assert [(column, reason) for _, column, reason in reasons(rows)] == [
        ("cost_date", "not a date"),
        ("category", "no such code"),
        ("amount", "not a number"),
        ("cost_id", "empty"),
    ]
    expected = dict(rows.problems.select("column_name", "expected").iter_rows())
    assert "Did you mean bins?" in expected["category"]
    assert "an amount in GBP" in expected["amount"]


def test_limits_and_rules_over_columns_are_kept(read):
    sheet = [
        WAVES,
        ["W1", "baseline", "1/3/2025", "1/2/2025"],
        ["W2", "baseline", "1/3/1925", "1/3/2025"],
    ]
    rows = only(read({"waves.xlsx": {"waves": sheet}}))
    assert reasons(rows) == [
        (2, "closes_date", "closes before it opens"),
        (3, "opens_date", "too small"),
    ]


def test_identical_repeats_are_dropped_and_contradictions_refused(read):
    text = COSTS + "1,1/3/2025,bins,5\n1,01/03/2025,bins,5.0\n1,1/3/2025,bins,6\n"
    rows = only(read({"costs.csv": text}))
    assert (rows.good().height, rows.repeated_count) == (1, 1)
    assert reasons(rows) == [(4, "cost_id", "same key as an earlier row, other values")]
    assert "row 2 came first" in rows.problems["expected"].item()


def test_a_contradiction_names_the_sheet_of_the_first_row(read):
    sheets = {"waves": [WAVES, WAVE], "waves old": [WAVES, ["W1", *WAVE[1:3], "30/3/2025"]]}
    problem = read({"waves.xlsx": sheets})[0].problems()
    assert problem["sheet"].to_list() == ["waves old"]
    assert "row 2 of sheet waves came first" in problem["expected"].item()


@pytest.mark.parametrize(
    "order", [("areas.csv", "households.csv"), ("households.csv", "areas.csv")]
)
def test_the_order_of_files_is_free(read, order):
    texts = {"areas.csv": AREAS + AREA, "households.csv": HOUSEHOLDS + HOUSEHOLD}
    files = read({name: texts[name] for name in order})
    assert [file.problems().height for file in files] == [0, 0]


def test_rows_that_refer_to_a_refused_row_are_refused_for_that(read):
    texts = {
        "areas.csv": AREAS + AREA.replace(",10,", ",ten,"),
        "households.csv": HOUSEHOLDS + HOUSEHOLD + HOUSEHOLD.replace("H1,A1", "H2,A9"),
    }
    found = read(texts)[1].problems()
    assert found.select("row_number", "reason").rows() == [
        (2, "its row in areas is refused"),
        (3, "not among areas"),
    ]


def test_a_key_of_the_store_is_enough(read):
    files = read(
        {"households.csv": HOUSEHOLDS + HOUSEHOLD + HOUSEHOLD.replace("H1,A1", "H2,a01")},
        lambda _: pl.DataFrame({"area_id": ["A1"]}),
    )
    assert reasons(only(files)) == [(3, "area_id", "not among areas")]
    assert "Did you mean A1?" in files[0].problems()["expected"].item()


def test_a_bin_model_must_be_of_the_program_file(read):
    text = (
        "handover_id,household_id,model_id,handover_date,worms_kg,bedding_kg\n"
        "B1,H1,two_tray,1/3/2025,0.5,1\nB2,H1,two_trey,1/3/2025,0.5,1\n"
    )
    files = read(
        {"handovers.csv": text}, lambda _: pl.DataFrame({"household_id": ["H1"], "event_id": [""]})
    )
    assert reasons(only(files)) == [(3, "model_id", "could be misread")]
    assert "Did you mean two_tray?" in files[0].problems()["expected"].item()


def test_totals_examples_and_blank_rows_are_passed_over(read):
    text = COSTS + "example,1/3/2025,bins,1\n,,,\n1,1/3/2025,bins,5\nTotal:,,,5\n"
    file = read({"costs.csv": text})[0]
    assert (only([file]).skipped_count, only([file]).good().height) == (2, 1)
    (note,) = file.notes
    assert note.startswith("costs.csv, row 5: your total row says")


def test_unknown_columns_and_sheets_are_noted_by_name(read):
    book = {"waves": [[*WAVES, "Checked by"], [*WAVE, "J"]], "shopping": [["milk"], ["eggs"]]}
    notes = " ".join(read({"b.xlsx": book})[0].notes)
    assert "Checked by" in notes
    assert "sheet shopping" in notes


def test_an_unknown_heading_near_a_column_is_noted_with_it(read):
    text = HOUSEHOLDS.replace("channel", "chanel") + HOUSEHOLD
    (note,) = read({"households.csv": text})[0].notes
    assert 'the column channel is missing. Is it the one headed "chanel"?' in note


def test_a_row_of_a_text_file_with_too_many_cells_is_refused(read):
    text = COSTS + "1,1/3/2025,bins,2,5\n2,1/3/2025,bins,2\n"
    rows = only(read({"costs.csv": text}))
    assert reasons(rows) == [(2, "amount", "more cells than headings")]
    assert rows.good()["cost_id"].to_list() == ["2"]


@pytest.mark.parametrize("shift", [0, 2])
def test_the_error_of_a_formula_is_refused_and_not_taken_for_an_empty_cell(read, shift):
    pad = [None] * shift
    sheet = [
        [*pad, "household_id", "full_name", "street_address", "postcode", "email"],
        [*pad, "H1", "Ada", "1 Row", "0123", "#N/A"],
        [*pad, "H2", "Ada", "1 Row", "#DIV/0!", None],
    ]
    rows = only(
        read(
            {"c.xlsx": {"contacts": sheet}}, lambda _: pl.DataFrame({"household_id": ["H1", "H2"]})
        )
    )
    assert [(row, column) for row, column, _ in reasons(rows)] == [(2, "email"), (3, "postcode")]
    assert all("a formula's error" in reason for _, _, reason in reasons(rows))


def test_hidden_sheets_are_noted_and_not_read(read, tmp_path):
    path = tmp_path / "b.xlsx"
    book = {"waves": [WAVES, WAVE], "costs": [["cost_id", "cost_date", "category", "amount"]]}
    read({"b.xlsx": book})
    opened = openpyxl.load_workbook(path)
    opened["costs"].sheet_state = "hidden"
    opened.save(path)
    file = read({"b.xlsx": path.read_bytes()})[0]
    assert [rows.table for rows in file.sheets] == ["waves"]
    assert file.notes == ("b.xlsx, sheet costs: hidden, not read.",)


def test_lacking_columns_are_named_with_the_nearest_heading(read):
    with pytest.raises(IntakeError) as refused:
        read(
            {"waves.csv": "wave_id,wave_kind,open_date,closes_date\n", "costs.csv": "cost_id\n1\n"}
        )
    told = str(refused.value)
    assert 'opens_date (is it the one headed "open_date"?)' in told
    assert "costs.csv, row 1: found no column cost_date, category, amount" in told


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("notes.csv", "some,words\nand,more\n", "found no table of records"),
        ("empty.csv", "", "found no table of records"),
        ("letter.docx", "text", r"expected \.xlsx, \.ods or \.csv"),
        ("broken.xlsx", "not a workbook", "cannot be read as a spreadsheet"),
        ("costs.csv", COSTS + '1,"2,3\n4,5,6\n', "opened and not closed"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(read, name, content, told):
    with pytest.raises(IntakeError, match=told):
        read({name: content})


def test_a_missing_file_is_named(read, tmp_path, program):
    with pytest.raises(IntakeError, match=r"gone\.csv: no such file"):
        read_files([tmp_path / "gone.csv"], program, lambda _: None)


def test_no_value_of_a_contact_is_repeated_anywhere(read):
    secret = "Quillfeather" * 40
    text = f"household_id,full_name,street_address,postcode\n{secret},{secret},{secret},\n"
    file = read({"contacts.csv": text})[0]
    shown = " ".join(map(str, file.problems().drop("record_key").rows()))
    assert file.problems().height >= 4
    assert "Quillfeather" not in shown
    assert "not kept" in shown


CELLS = st.sampled_from(["", "1", "2.5", "bins", "worms", "1/3/2025", "x", "total", "example", "A"])


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(CELLS, CELLS, CELLS, CELLS), max_size=8))
def test_every_row_read_has_one_fate(read, rows):
    text = COSTS + "".join(",".join(row) + "\n" for row in rows)
    sheet = only(read({"costs.csv": text}))
    refused = sheet.problems["row_number"].n_unique()
    counted = sheet.good().height + sheet.repeated_count + sheet.skipped_count + refused
    examples = sum(next(filter(None, row), "") == "example" for row in rows)
    blank_at_end = len(list(itertools.takewhile(lambda row: not any(row), reversed(rows))))
    assert counted == sheet.rows_read == len(rows) - examples - blank_at_end
    assert not set(sheet.good()["row_number"]) & set(sheet.problems["row_number"])
    TABLES["costs"].validate(sheet.good().drop("row_number"))
    assert set(sheet.good()["category"].cast(pl.String)) <= set(codes("costs", "category"))
