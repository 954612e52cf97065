"""A council's own words: headings, units in them, synonyms; and rows that hold no record.

Pounds and ounces: 1 lb = 0.45359237 kg exactly (NIST Special Publication 811, appendix
B.8), 1 oz = 1/16 lb.
"""

from __future__ import annotations

import datetime as dt
import zipfile

import openpyxl
import polars as pl
import pytest

from planner.errors import IntakeError, ProgramError
from planner.intake.meaning import folded, meaning
from planner.intake.reading import read_files
from planner.intake.vocabulary import coded_columns, vocabulary
from planner.intake.wording import near_code
from planner.tables import PRIOR_SHARES, TABLES
from tests.unit.intake.conftest import nothing_known, write_book
from tests.unit.intake.told import sentences

LB_IN_KG = 0.45359237
COSTS = "cost_id,cost_date,category,amount\n"
HOUSEHOLDS = [
    "household_id",
    "area_id",
    "dwelling",
    "people_count",
    "registered_date",
    "may_contact",
]


def everything_known(table):
    keys = {"household_id": ["H1"], "area_id": ["A1", "NORTH", "WARD011"], "wave_id": ["W1"]}
    return pl.DataFrame({key: keys.get(key, ["X"]) for key in TABLES[table].primary_key()})


def read_own(tmp_path, program, name, text, *, known=everything_known, **changes):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    day = changes.pop("loaded_on", None)
    (file,) = read_files([path], program.model_copy(update=changes), known, loaded_on=day)
    return file


@pytest.mark.parametrize(
    ("heading", "written", "kg"),
    [
        ("fed_kg", "2", 2.0),
        ("Fed (kg)", "2", 2.0),
        ("fed g", "500", 0.5),
        ("FED (grams)", "1500", 1.5),
        ("fed lb", "10", 10 * LB_IN_KG),
        ("Fed [lbs]", "1", LB_IN_KG),
        ("fed oz", "16", LB_IN_KG),
        ("fed (t)", "0.002", 2.0),
    ],
)
def test_a_unit_in_a_heading_is_converted(tmp_path, program, heading, written, kg):
    text = f"household_id,week_start_date,{heading}\nH1,3/3/2025,{written}\n"
    file = read_own(tmp_path, program, "weighings.csv", text)
    assert file.sheets[0].good()["fed_kg"].to_list() == pytest.approx([kg], rel=1e-15)
    converted = "kg" not in heading
    assert any("was read as" in note for note in file.notes) == converted


def test_litres_and_kilograms_go_to_columns_of_their_own(tmp_path, program):
    text = "wave_id,household_id,answer_date,fed last week (ml)\nW1,H1,3/3/2025,2500\n"
    (rows,) = read_own(tmp_path, program, "answers.csv", text).sheets
    assert rows.good().select("fed_litres_last_week", "fed_kg_last_week").rows() == [(2.5, None)]


@pytest.mark.parametrize("heading", ["fed (kg, lb)", "fed gallons", "fed (l)", "weight lb"])
def test_a_heading_of_two_units_or_a_wrong_one_means_no_column(heading):
    assert meaning("weighings", heading, {}) is None


def test_limits_hold_after_the_conversion(tmp_path, program):
    text = "household_id,week_start_date,fed (lb)\nH1,3/3/2025,132\nH1,10/3/2025,133\n"
    (rows,) = read_own(tmp_path, program, "weighings.csv", text).sheets
    assert rows.good()["fed_kg"].to_list() == pytest.approx([132 * LB_IN_KG])
    assert rows.problems["reason"].to_list() == ["too large"]


def test_own_headings_of_the_program_file_are_read_with_their_units(tmp_path, program):
    own = {
        "weighings": {
            "Property No.": "household_id",
            "Food (lb)": "fed_kg",
            "wk": "week_start_date",
        }
    }
    text = "property no,WK,food (LB)\nH1,3/3/2025,2\n"
    (rows,) = read_own(tmp_path, program, "weighings.csv", text, columns=own).sheets
    assert rows.good().drop("row_number").rows() == [("H1", dt.date(2025, 3, 3), 2 * LB_IN_KG)]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"columns": {"household": {"a": "area_id"}}}, "Did you mean households?"),
        ({"columns": {"areas": {"a": "area_nam"}}}, "Did you mean area_name?"),
        ({"synonyms": {"dweling": {"a": "house"}}}, "Did you mean dwelling?"),
        ({"synonyms": {"dwelling": {"a": "hous"}}}, "Did you mean house?"),
    ],
)
def test_own_words_for_what_there_is_not_are_refused(program, changes, told):
    with pytest.raises(ProgramError) as refused:
        vocabulary(program.model_copy(update=changes))
    assert told in str(refused.value)


def test_shipped_synonyms_stand_for_codes_and_hide_none(program):
    words = vocabulary(program)
    for column, synonyms in words.synonyms.items():
        allowed = coded_columns()[column]
        assert set(synonyms.values()) <= set(allowed)
        assert not set(synonyms) & {folded(code) for code in allowed}


def test_synonyms_of_the_program_file_come_before_the_shipped(tmp_path, program):
    own = {
        "category": {"delivery": "staff", "Fahrt kosten": "freight"},
        "may_contact": {"ok": "yes"},
    }
    text = COSTS + "1,1/3/2025,Delivery,5\n2,1/3/2025,fahrt-kosten,5\n3,1/3/2025,wages,5\n"
    (rows,) = read_own(tmp_path, program, "costs.csv", text, synonyms=own).sheets
    assert rows.good()["category"].to_list() == ["staff", "freight", "staff"]
    text = f"{','.join(HOUSEHOLDS)}\nH1,A1,Semi-detached,2,1/3/2025,OK\n"
    (rows,) = read_own(tmp_path, program, "h.csv", text, synonyms=own).sheets
    assert rows.good().select("dwelling", "may_contact").rows() == [("townhouse", True)]


def test_headings_in_two_rows_of_merged_cells_are_read(tmp_path, program):
    path = tmp_path / "answers.xlsx"
    upper = ["wave_id", "household_id", "answer_date", "prior share", *[None] * 4]
    lower = [
        None,
        None,
        None,
        "residual bin",
        "garden compost",
        "kerbside organics",
        "animals",
        "other",
    ]
    shares = [0.5, 0.2, 0.1, 0.1, 0.1]
    write_book(path, {"answers": [upper, lower, ["W1", "H1", dt.date(2025, 3, 4), *shares]]})
    book = openpyxl.load_workbook(path)
    book["answers"].merge_cells("D1:H1")
    for column in "ABC":
        book["answers"].merge_cells(f"{column}1:{column}2")
    book.save(path)
    (file,) = read_files([path], program, everything_known)
    good = file.sheets[0].good()
    assert good["row_number"].to_list() == [3]
    assert [good[f"prior_{name.replace(' ', '_')}_share"].item() for name in lower[3:]] == shares


def test_notes_and_totals_under_the_table_are_passed_over_and_named(tmp_path, program):
    text = (
        COSTS
        + "1,1/3/2025,bins,5\nTotal 2025:,,,5\n\nSource: the ledger of the depot\n*provisional,,,\n"
    )
    file = read_own(tmp_path, program, "costs.csv", text)
    assert file.sheets[0].good().height == 1
    assert file.problems().is_empty()
    assert [note.rpartition(": ")[2] for note in file.notes] == [
        "a note or an average, not read.",
        "a note or an average, not read.",
        "your total row says 5.00, and the lines loaded add up to the same.",
    ]


def test_columns_that_move_with_repeated_headings_are_read_where_they_went(tmp_path, program):
    text = (
        COSTS + "1,1/3/2025,bins,5\nNB: typed in again above,,,\n"
        "cost_id,category,cost_date,amount\n2,worms,2/3/2025,6\n"
        "cost_id,cost_date,category,amount\n3,3/3/2025,staff,7\nMean,,,6\n"
    )
    file = read_own(tmp_path, program, "costs.csv", text)
    good = file.sheets[0].good()
    assert good["cost_id"].to_list() == ["1", "2", "3"]
    assert good["category"].to_list() == ["bins", "worms", "staff"]
    assert [day.day for day in good["cost_date"]] == [1, 2, 3]
    assert file.problems().is_empty()
    assert len(file.notes) == 4


def test_a_word_at_the_head_of_its_group_waits_for_a_yes(tmp_path, program):
    text = (
        "category,cost_id,cost_date,amount\nbins,1,1/3/2025,5\n,2,2/3/2025,6\n,3,2/3/2025,6\n"
        "bins total,,,17\nworms,4,4/3/2025,8\n,5,4/3/2025,8\n,6,4/3/2025,8\n"
    )
    file = read_own(tmp_path, program, "costs.csv", text)
    assert [one.name for one in file.proposals()] == ["costs.category.from_above"]
    assert file.sheets[0].good()["cost_id"].to_list() == ["1", "4"]
    (read,) = read_files(
        [tmp_path / "costs.csv"],
        program,
        nothing_known,
        accepted=frozenset(["costs.category.from_above"]),
    )
    assert read.sheets[0].good()["category"].to_list() == ["bins"] * 3 + ["worms"] * 3


def test_a_row_with_a_key_alone_is_refused_and_not_taken_for_a_note(tmp_path, program):
    file = read_own(tmp_path, program, "costs.csv", COSTS + "1,1/3/2025,bins,5\n2,,,\n")
    assert set(file.problems()["row_number"]) == {3}


@pytest.mark.parametrize("name", ["handovers", "Handover", "handovers 2025"])
def test_a_sheet_of_a_tables_name_without_headings_is_an_error(tmp_path, program, name):
    path = tmp_path / "b.xlsx"
    write_book(path, {name: [["B1", "H1", "two_tray", "1/3/2025", 1, 1]] * 60})
    with pytest.raises(IntakeError, match="60 rows but no row of headings"):
        read_files([path], program, nothing_known)


def test_a_renamed_column_that_may_be_empty_is_named_with_its_likely_heading(tmp_path, program):
    text = "wave_id,household_id,answer_date,food kg\nW1,H1,3/3/2025,2\n"
    (note,) = read_own(tmp_path, program, "answers.csv", text).notes
    assert 'the column fed_kg_last_week is missing. Is it the one headed "food kg"?' in note
    assert '"food kg" = "fed_kg_last_week" under [columns.answers]' in note


@pytest.mark.parametrize("found", ["12 Mill Lane, J. Quill", "J Quill", "quill@example.org"])
def test_a_name_or_address_for_a_household_is_refused_and_kept_nowhere(tmp_path, program, found):
    path = tmp_path / "book.xlsx"
    household = [found, "A1", "house", 2, "1/3/2025", "yes"]
    sheets = {
        "households": [HOUSEHOLDS, household],
        "weighings": [["household_id", "week_start_date", "fed_kg"], [found, "x", 1]],
    }
    write_book(path, sheets)
    (file,) = read_files([path], program, everything_known)
    problems = file.problems()
    assert problems.filter(pl.col("column_name") == "household_id").height == 2
    assert "uill" not in str(problems.rows())
    assert "use a number" in sentences(problems)[0] or "a number or code" in sentences(problems)[0]


def test_dates_in_another_style_are_remarked(tmp_path, program):
    text = COSTS + "1,3.4.25,bins,5\n2,03/04/2025,bins,5\n3,2025-04-03,bins,5\n"
    (note,) = read_own(tmp_path, program, "costs.csv", text).notes
    assert "1 date in cost_date not written as is usual" in note
    assert '"3.4.25" was read as 3 April 2025' in note


def test_a_bare_number_is_no_date(tmp_path, program):
    path = tmp_path / "costs.xlsx"
    write_book(path, {"costs": [COSTS.strip().split(","), [1, 45750, "bins", 5]]})
    (file,) = read_files([path], program, nothing_known)
    # 45 750 days after 30 December 1899, by the calendar
    assert "Perhaps 03/04/2025" in file.problems()["expected"].item()


def test_a_day_after_the_day_of_loading_is_refused_but_for_what_is_planned(tmp_path, program):
    day = dt.date(2026, 7, 1)
    text = COSTS + "1,1/7/2026,bins,5\n2,2/7/2026,bins,5\n"
    (rows,) = read_own(tmp_path, program, "costs.csv", text, loaded_on=day).sheets
    assert rows.good()["cost_id"].to_list() == ["1"]
    assert "a day up to 01/07/2026" in rows.problems["expected"].item()
    text = "wave_id,wave_kind,opens_date,closes_date\nW1,baseline,1/9/2026,30/9/2026\n"
    assert read_own(tmp_path, program, "waves.csv", text, loaded_on=day).problems().is_empty()


@pytest.mark.parametrize(
    ("column", "found", "told"),
    [
        ("amount", "$10", "an amount in GBP from -100,000,000 to 100,000,000."),
        ("amount", "1.234,50", "Perhaps 1234.5"),
        ("cost_date", "31/02/2025", "There is no such day; February 2025 has 28 days."),
        ("cost_date", "04/13/2025", "There is no month 13; the day comes first here."),
        ("category", "worrms", "Did you mean worms?"),
    ],
)
def test_advice_says_what_to_write(tmp_path, program, column, found, told):
    cells = {
        "cost_id": "1",
        "cost_date": "1/3/2025",
        "category": "bins",
        "amount": "5",
        column: f'"{found}"',
    }
    file = read_own(tmp_path, program, "costs.csv", COSTS + ",".join(cells.values()) + "\n")
    (sentence,) = sentences(file.problems())
    assert told in sentence


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ("2 litres", "one number"),
        ("55%", "A per cent does not say how much"),
    ],
)
def test_a_unit_of_another_kind_in_a_cell_is_not_read(tmp_path, program, found, told):
    text = f"household_id,week_start_date,fed_kg\nH1,3/3/2025,{found}\n"
    file = read_own(tmp_path, program, "weighings.csv", text)
    assert told in file.problems()["expected"].item()


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ("NROTH", "Did you mean NORTH?"),
        ("Z9", "Load its row"),
        ("WARD012", "Load its row"),  # WARD011 is another ward, not this one mistyped
        ("WRAD011", "Did you mean WARD011?"),
    ],
)
def test_a_key_near_a_known_one_is_told_with_it(tmp_path, program, found, told):
    text = f"{','.join(HOUSEHOLDS)}\nH1,{found},house,2,1/3/2025,yes\n"
    file = read_own(tmp_path, program, "households.csv", text)
    assert told in file.problems()["expected"].item()


def test_a_bin_model_given_by_its_name_is_read_as_its_code(tmp_path, program):
    text = (
        "handover_id,household_id,model_id,handover_date,worms_kg,bedding_kg\n"
        "B1,H1,Two-tray stacked bin,1/3/2025,0.5,1\n"
    )
    (rows,) = read_own(tmp_path, program, "handovers.csv", text).sheets
    assert rows.typed["model_id"].to_list() == ["two_tray"]
    assert rows.readings["kind"].to_list() == ["name"]


def test_a_formula_without_a_stored_result_is_told_as_such(tmp_path, program):
    path = tmp_path / "costs.xlsx"
    write_book(path, {"costs": [COSTS.strip().split(","), [1, "1/3/2025", "bins", "=2+3"]]})
    (file,) = read_files([path], program, nothing_known)
    problem = file.problems().row(0, named=True)
    assert (problem["column_name"], problem["value"]) == ("amount", "#NO RESULT")
    assert "Open the file in your spreadsheet program and save it" in problem["expected"]


def test_a_row_whose_cells_have_moved_has_one_fault(tmp_path, program):
    file = read_own(tmp_path, program, "costs.csv", COSTS + "1,1/3/2025,bi,ns,2,5\n")
    assert file.problems()["reason"].to_list() == ["more cells than headings"]


def test_a_workbook_with_macros_is_read_as_one_without(tmp_path, program):
    path = tmp_path / "costs.xlsm"
    write_book(path, {"costs": [COSTS.strip().split(","), [1, "1/3/2025", "bins", 5]]})
    (file,) = read_files([path], program, nothing_known)
    assert file.sheets[0].good().height == 1


def test_an_ods_file_is_read_as_an_xlsx_is(tmp_path, program):
    row = "<table:table-row>{}</table:table-row>"
    cell = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    number = (
        '<table:table-cell office:value-type="float" office:value="{0}"><text:p>{0}</text:p>'
        "</table:table-cell>"
    )
    heads = row.format("".join(cell.format(name) for name in COSTS.strip().split(",")))
    cells = cell.format("1") + cell.format("1/3/2025") + cell.format("bins") + number.format("2.5")
    (file,) = read_files(
        [_ods(tmp_path / "costs.ods", heads + row.format(cells))], program, nothing_known
    )
    assert file.sheets[0].good()["amount"].to_list() == [2.5]


def _ods(path, rows):
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text", "manifest")
    )
    content = (
        f"<office:document-content {spaces}><office:body><office:spreadsheet>"
        f'<table:table table:name="costs">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", f"<manifest:manifest {spaces}/>")
        archive.writestr("content.xml", content)
    return path


@pytest.mark.parametrize(
    ("locale", "found", "advised"),
    [
        ("en_GB", "2-3 kg", "Write the middle, 2.5."),
        ("fr_FR", "2-3 kg", "Écrivez le milieu, 2,5."),
        ("en_GB", "500 g - 700 g", "Write the middle, 0.6."),
        ("en_GB", "500-700 g", "Write the middle, 0.6."),
        ("en_GB", "200 to 300", "Write one number."),  # 250 kg would be refused in turn
    ],
)
def test_a_range_is_refused_with_its_middle_where_the_column_may_hold_that(
    tmp_path, program, locale, found, advised
):
    abroad = program.model_copy(
        update={"council": program.council.model_copy(update={"country_locale": locale})}
    )
    text = f"household_id,week_start_date,fed_kg\nH1,3/3/2025,{found}\n"
    file = read_own(tmp_path, abroad, "weighings.csv", text)
    assert file.problems()["expected"].item().endswith(advised)


def test_a_word_is_not_proposed_for_a_code_that_only_looks_a_little_like_it():
    assert near_code("odeur", ("none", "smell", "other")) == ""
    assert near_code("binns", ("bins", "worms")) == "Did you mean bins?"


@pytest.mark.parametrize(
    "words",
    [
        *("Total", "TOTAL GÉNÉRAL", "Totaux", "Sous-total :", "Suma total", "Gesamtsumme"),
        *("Insgesamt", "Total 2025", "Grand total", "Totale", "Totaal"),
    ],
)
def test_totals_are_seen_in_any_language(tmp_path, program, words):
    text = COSTS + f"1,1/3/2025,bins,5\n{words},,,5\n"
    (rows,) = read_own(tmp_path, program, "costs.csv", text).sheets
    assert (rows.good().height, rows.skipped_count) == (1, 1)
    assert rows.problems.is_empty()


def test_two_wrong_rows_that_say_the_same_are_one_row_twice(tmp_path, program):
    text = COSTS + "1,31/2/2025,bins,5\n1,31/2/2025,bins,5\n1,31/2/2025,bins,6\n"
    (rows,) = read_own(tmp_path, program, "costs.csv", text).sheets
    assert rows.repeated_count == 1
    assert rows.problems.filter(pl.col("row_number") == 3).is_empty()
    assert "same key as an earlier row, other values" in rows.problems["reason"].to_list()


def test_a_row_marked_as_twice_is_no_household_with_a_name(tmp_path, program):
    text = "household_id,week_start_date,fed_kg\n#TWICE SE-0177,3/3/2025,2\n"
    file = read_own(tmp_path, program, "weighings.csv", text)
    assert file.problems()["value"].to_list() == ["#TWICE SE-0177"]
    assert "without the mark" in file.problems()["expected"].item()


@pytest.mark.parametrize(
    ("shares", "read"),
    [
        ("0.76,0.24", (0.76, 0.24, 0.0, 0.0, 0.0)),
        ("1,", (1.0, 0.0, 0.0, 0.0, 0.0)),
        ("0.76,0.2", None),  # something is left, and nobody knows where it went
        ("0.99,", None),
        ("1,some", None),  # what stands there is told, not taken as nothing
        (",", (None,) * 5),
    ],
)
def test_shares_left_empty_are_nothing_where_the_others_are_the_whole(
    tmp_path, program, shares, read
):
    head = "wave_id,household_id,answer_date,prior_residual_bin_share,prior_garden_compost_share"
    file = read_own(tmp_path, program, "answers.csv", f"{head}\nW1,H1,1/3/2025,{shares}\n")
    good = file.sheets[0].good()
    taken = good.select(PRIOR_SHARES).rows()
    assert taken == ([] if read is None else [read])
    told = any("the shares left empty are taken as 0" in note for note in file.notes)
    assert told == (read is not None and None not in read)
    # the empty shares are written to the record too
    assert told == (set(PRIOR_SHARES) <= set(file.sheets[0].written))


@pytest.mark.parametrize(
    ("cells", "read"),
    [
        ("Trash,", (1.0, 0.0, 0.0, 0.0, 0.0)),
        ("Garbage disposal,", (0.0, 0.0, 0.0, 0.0, 1.0)),
        # shares say more than the largest of them
        ("Trash,0.6", (0.6, 0.4, 0.0, 0.0, 0.0)),
        (",", (None,) * 5),
    ],
)
def test_where_most_went_counts_for_all_where_no_shares_were_asked(tmp_path, program, cells, read):
    head = "wave_id,household_id,answer_date,prior_main_route,prior_residual_bin_share"
    rest = ",0.4" if "0.6" in cells else ","
    text = f"{head},prior_garden_compost_share\nW1,H1,1/3/2025,{cells}{rest}\n"
    file = read_own(tmp_path, program, "answers.csv", text)
    assert file.sheets[0].good().select(PRIOR_SHARES).rows() == [read]
    assert any("counts as all of them" in note for note in file.notes) == (1.0 in read)


def test_a_route_that_is_no_route_is_refused_and_stands_for_nothing(tmp_path, program):
    head = "wave_id,household_id,answer_date,prior_main_route"
    file = read_own(tmp_path, program, "answers.csv", f"{head}\nW1,H1,1/3/2025,the moon\n")
    assert file.sheets[0].good().is_empty()
    assert file.sheets[0].typed.select(PRIOR_SHARES).rows() == [(None,) * 5]


def test_a_row_that_stands_for_two_bins_is_refused(tmp_path, program):
    head = "handover_id,household_id,model_id,handover_date,worms_kg,bedding_kg,bins_count"
    rows = "1,H1,two_tray,1/3/2025,0.5,1,1\n2,H2,two_tray,1/3/2025,0.5,1,2\n"
    file = read_own(tmp_path, program, "handovers.csv", f"{head}\n{rows}")
    assert file.sheets[0].good()["handover_id"].to_list() == ["1"]
    line, *_ = sentences(file.sheets[0].problems)
    assert "one row for each bin" in line
