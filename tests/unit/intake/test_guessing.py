"""Headings of an officer's own sheets, by name, unit and value; all rows that hold the same."""

from __future__ import annotations

import datetime as dt

import openpyxl
import polars as pl
import pytest

from planner.errors import IntakeError, ProgramError
from planner.intake.guessing import guess_sheet
from planner.intake.questions import NOTHING, Answers
from planner.intake.reading import context_of, read_files
from planner.intake.refused_copy import Refused, refused_copy
from planner.intake.sheets import read_sheets
from planner.looking import look_at_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program


def guessed(tmp_path, program, name, text):
    path = tmp_path / f"{name}.csv"
    path.write_text(text, encoding="utf-8")
    (sheet,), _ = read_sheets(path)
    guess = guess_sheet(sheet, context_of(program, None), {})
    return guess, {one.heading: (one.column, one.is_sure) for one in guess.columns}


def test_a_name_beside_a_code_is_no_code(tmp_path, program):
    guess, found = guessed(tmp_path, program, "wards", "Code,Ward,Detached\nQ1,Elm,12\nQ2,Oak,9\n")
    assert guess.table == "areas"
    assert found["Code"] == ("area_id", True)
    assert found["Ward"] == ("area_name", True)


def test_a_unit_in_a_heading_says_how_its_numbers_are_read(tmp_path, program):
    text = (
        "Hand-over no,Household no,Model,Date of hand-over,Worms (g),Bedding\n"
        "R1,H1,two_tray,01/06/2026,250,1\nR2,H2,two_tray,02/06/2026,300,1\n"
    )
    guess, found = guessed(tmp_path, program, "bins", text)
    assert guess.table == "handovers"
    # 250 kg of worms are no worms for one bin; 250 g are
    assert found["Worms (g)"] == ("worms_kg", True)


def test_the_first_row_of_records_is_no_second_line_of_headings(tmp_path, program):
    text = (
        "Code vague,Nature de l'enquête,Ouverture,Clôture\n"
        "V0,état initial,1er janvier 2025,31 décembre 2025\nV1,suivi,5/1/2026,28/2/2026\n"
    )
    guess, found = guessed(tmp_path, program, "vagues", text)
    assert (guess.table, guess.row_number) == ("waves", 1)
    # the l of an elided article is no litre
    assert found["Nature de l'enquête"][0] == "wave_kind"


def test_two_middling_columns_do_not_take_the_place_of_one_that_is_certain(tmp_path, program):
    rows = "".join(
        f"BL-{n:03d},{n} à {n + 1},nord,maison,0{n % 9 + 1}/03/2025\n" for n in range(60)
    )
    head = "N° DE FOYER,NB DE PERS. AU FOYER,SECTEUR,TYPE DE LOGEMENT,INSCRIT LE\n"
    _, found = guessed(tmp_path, program, "foyers", head + rows)
    assert found["N° DE FOYER"][0] == "household_id"


def test_a_mass_is_no_volume(tmp_path, program):
    text = (
        "Round,Household no,Date answered,Still using,Scraps fed last week (kg)\n"
        "W1,H1,03/06/2026,yes,1.5\nW1,H2,04/06/2026,no,\n"
    )
    _, found = guessed(tmp_path, program, "survey", text)
    assert found["Scraps fed last week (kg)"] == ("fed_kg_last_week", True)


def test_a_key_of_two_columns_repeats_in_each(tmp_path, program):
    rows = "".join(f"W1,H{n},03/06/2026,yes\n" for n in range(40))
    _, found = guessed(
        tmp_path, program, "answers 1", f"Round,Household no,Date answered,In use\n{rows}"
    )
    assert found["Round"] == ("wave_id", True)


def test_a_column_that_begins_far_below_is_told_by_its_values(tmp_path, program):
    empty = "".join(f"W0,H{n},03/06/2026,\n" for n in range(400))
    told = "".join(f"W1,H{n},03/09/2026,yes\n" for n in range(50))
    head = "Round,Household no,Date answered,Using the bin\n"
    _, found = guessed(tmp_path, program, "answers 2", head + empty + told)
    assert found["Using the bin"][0] == "is_in_use"


KEY = ("wave_id", "household_id")
AREAS = "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count\n" + (
    "Q1,Elm,10,5,5,50\nQ2,Oak,10,5,5,50\n"
)


@pytest.fixture
def folder(tmp_path):
    text = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")
    (tmp_path / PROGRAM_FILE).write_text(text, encoding="utf-8")
    (tmp_path / "areas.csv").write_text(AREAS, encoding="utf-8")
    return tmp_path


def looked(folder, **every_row):
    files = [folder / "areas.csv"]
    answers = Answers(every_row=every_row)
    return look_at_files(folder, files, answers, lambda _: None, keep=True)


def test_a_column_that_a_sheet_lacks_is_asked_for_once(folder):
    found = looked(folder)
    asked = [(one.kind, one.about, one.guess) for one in found.open_questions]
    assert asked == [
        ("every_row", "kerbside_service", NOTHING),
        ("every_row", "is_priority", NOTHING),
    ]


def test_what_every_row_holds_is_loaded_and_noted(folder):
    before = (folder / PROGRAM_FILE).read_text(encoding="utf-8")
    found = looked(folder, kerbside_service="Refuse only", is_priority="N")
    assert not found.open_questions
    assert (folder / PROGRAM_FILE).read_text(encoding="utf-8").startswith(before.rstrip("\n"))
    assert not looked(folder).open_questions
    intake = read_files(
        [folder / "areas.csv"],
        read_program(folder / PROGRAM_FILE),
        lambda _: pl.DataFrame(schema={"area_id": pl.String}),
    )
    (rows,) = intake[0].sheets
    good = rows.good()
    assert good["kerbside_service"].cast(pl.String).to_list() == ["residual_only"] * 2
    assert good["is_priority"].to_list() == [False, False]
    assert {"kerbside_service", "is_priority"} <= set(rows.written)
    assert sum("in every row" in note for note in intake[0].notes) == 2


def test_an_answer_for_every_row_that_cannot_be_is_refused(folder):
    with pytest.raises(IntakeError, match="is_priority"):
        looked(folder, is_priority="perhaps")


@pytest.mark.parametrize(
    ("block", "said"),
    [
        ('[every_row.areas]\narea_name = "Elm"', "area_name"),
        ('[every_row.area]\nis_priority = "no"', "no such table"),
        (
            '[every_row.areas]\nis_priority = "maybe"\nkerbside_service = "residual_only"',
            "every_row.areas.is_priority",
        ),
    ],
)
def test_a_wrong_line_on_every_row_is_named(folder, block, said):
    path = folder / PROGRAM_FILE
    path.write_text(f"{path.read_text(encoding='utf-8')}\n{block}\n", encoding="utf-8")
    with pytest.raises(ProgramError, match=said):
        read_files([folder / "areas.csv"], read_program(path), lambda _: pl.DataFrame())


ANSWER_SHEETS = {
    "Spring 2025": [["H1", dt.date(2025, 6, 3), "yes"], ["H9", dt.date(2025, 6, 4), "no"]],
    "Spring 2026": [["H1", dt.date(2026, 6, 3), "yes"], ["H2", dt.date(2026, 6, 4), "no"]],
}


@pytest.mark.thorough
def test_a_sheet_of_one_round_needs_no_column_for_it(folder):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in ANSWER_SHEETS.items():
        sheet = book.create_sheet(name)
        for row in (["Household no", "Date answered", "Still using it?"], *rows):
            sheet.append(row)
    files = [folder / "answers.xlsx"]
    book.save(files[0])
    tables = dict.fromkeys(ANSWER_SHEETS, "answers")
    asked = []
    look_at_files(folder, files, Answers(tables=tables), asked.append, keep=False)
    # what is like last year's name is another round
    assert [(one.kind, one.about, one.guess) for one in asked] == [
        ("every_row_of_sheet", "answers.xlsx, Spring 2025: wave_id", "Spring 2025"),
        ("every_row_of_sheet", "answers.xlsx, Spring 2026: wave_id", "Spring 2026"),
    ]
    told = {asked[0].about: "Spring 2025", asked[1].about: "R2"}
    answers = Answers(tables=tables, every_row=told)
    found = look_at_files(folder, files, answers, lambda _: None, keep=True)
    assert not found.open_questions
    assert found.missing["waves"].select("wave_id", "opens_date", "closes_date").rows() == [
        ("Spring 2025", dt.date(2025, 6, 3), dt.date(2025, 6, 4)),
        ("R2", dt.date(2026, 6, 3), dt.date(2026, 6, 4)),
    ]
    known = {
        "waves": pl.DataFrame({"wave_id": ["Spring 2025", "R2"]}),
        "households": pl.DataFrame({"household_id": ["H1", "H2"]}),
    }
    (intake,) = read_files(files, read_program(folder / PROGRAM_FILE), lambda one: known[one])
    good = [row[:2] for rows in intake.sheets for row in rows.good().select(*KEY).rows()]
    assert good == [("Spring 2025", "H1"), ("R2", "H1"), ("R2", "H2")]
    # the copy of the refused row is another file, and still of that round
    refused = Refused(intake.sheets[0], intake.sheets[0].problems)
    (folder / "copy.xlsx").write_bytes(refused_copy([refused], "L0001", "en_GB"))
    head, row = list(openpyxl.load_workbook(folder / "copy.xlsx").active.values)[1:3]
    assert dict(zip(head, row, strict=True))["wave_id"] == "Spring 2025"
    # a round that nobody lists is refused, as it is where a column names it
    known["waves"] = known["waves"].head(1)
    (intake,) = read_files(files, read_program(folder / PROGRAM_FILE), lambda one: known[one])
    assert [rows.good().height for rows in intake.sheets] == [1, 0]


@pytest.mark.thorough
def test_a_second_table_beside_the_first_is_named_and_not_read(folder):
    text = (
        "Household no,Ward,Home,People,Registered on,OK to contact,,Round,Type,Opens,Closes\n"
        "H1,NORTH,house,2,01/03/2026,yes,,R0,baseline,01/01/2026,31/12/2026\n"
        "H2,NORTH,flat,1,02/03/2026,no,,R1,follow-up,01/01/2027,28/02/2027\n"
    )
    (folder / "register.csv").write_text(text, encoding="utf-8")
    found = look_at_files(folder, [folder / "register.csv"], Answers(), lambda _: None, keep=False)
    (guess,) = found.sheets
    assert guess.table == "households"
    (note,) = [note for note in found.notes if "sheet of its own" in note]
    assert "waves by the look of it (Round, Type, Opens, Closes)" in note


def test_next_years_file_of_the_same_name_does_not_take_last_years_round(folder):
    address = "answers.csv: wave_id"
    text = "household_id,answer_date,is_in_use\n"
    last, this = (text + f"H1,03/06/{year},yes\nH2,04/06/{year},no\n" for year in (2025, 2026))
    path = folder / "answers.csv"
    program_file = folder / PROGRAM_FILE
    begun = program_file.read_text("utf-8")
    program_file.write_text(begun + '[every_row.answers]\n"answers.csv: wave_id" = "R1"\n', "utf-8")
    rounds = {"wave_id": ["R1", "R2"], "opens_date": [dt.date(2025, 6, 1), dt.date(2026, 6, 1)]}
    closes = [dt.date(2025, 6, 30), dt.date(2026, 6, 30)]
    known = {
        "waves": pl.DataFrame({**rounds, "closes_date": closes}),
        "households": pl.DataFrame({"household_id": ["H1", "H2"]}),
    }

    def read(content, accepted=frozenset()):
        path.write_text(content, "utf-8")
        program = read_program(program_file)
        (intake,) = read_files([path], program, known.get, accepted=accepted)
        return intake, intake.sheets[0].good()["wave_id"].to_list()

    assert read(last)[1] == ["R1", "R1"]
    intake, good = read(this)
    assert good == []
    assert [one.name for one in intake.proposals()] == ["answers.wave_id.held_round"]
    said = intake.problems()["expected"][0]
    assert "between 1 June 2025 and 30 June 2025" in said
    assert f"planner look answers.csv --every-row '{address}=NEW-CODE'" in said
    assert read(this, frozenset(["answers.wave_id.held_round"]))[1] == ["R1", "R1"]
    # what the refusal says to write
    answers = Answers(every_row={address: "R2"})
    look_at_files(folder, [path], answers, lambda _: None, keep=True)
    assert read(this)[1] == ["R2", "R2"]


def test_names_of_records_that_nobody_has_loaded_are_left_out(folder):
    text = (
        "Hand-over no,Household no,Model,Date of hand-over,Worms (g),Bedding,Hand-over day\n"
        "R1,H1,two_tray,01/06/2026,250,1,Spring fair\n"
    )
    (folder / "handovers.csv").write_text(text, encoding="utf-8")
    found = look_at_files(folder, [folder / "handovers.csv"], Answers(), lambda _: None, keep=False)
    assert "event_id" not in found.words["columns"]["handovers"].values()
    assert any("Hand-over day" in note and "events" in note for note in found.notes)


@pytest.mark.parametrize(
    ("sheet", "head", "row", "meant"),
    [
        (
            "sign-ups",
            "Household #,Neighborhood,Home type,# in household,Signed up on,May we contact you?",
            "HH-1,Old Depot,Townhome,3,3/14/2025,Y",
            "household_id area_id dwelling people_count registered_date may_contact",
        ),
        (
            "pick-ups",
            "Bin #,Household #,Bin type,Picked up,Worms (lb),Bedding,Co-pay",
            "B1,HH-1,Two-tray stacked bin,3/14/2025,1,2.2 lb,$15.00",
            "handover_id household_id model_id handover_date worms_kg bedding_kg copayment",
        ),
        (
            "survey results",
            "Survey,Household #,Answered,Still using it?,% to trash before,% backyard pile before",
            "Spring,HH-1,6/14/2025,Yes,90%,10%",
            "wave_id household_id answer_date is_in_use prior_residual_bin_share "
            "prior_garden_compost_share",
        ),
        (
            "spending",
            "Invoice,Date paid,What for,Amount",
            "INV-1,3/14/2025,Red wigglers,$150.00",
            "cost_id cost_date category amount",
        ),
    ],
)
def test_headings_of_north_america_are_known(tmp_path, american, sheet, head, row, meant):
    guess, found = guessed(tmp_path, american, sheet, f"{head}\n{row}\n")
    assert [found[heading] for heading in head.split(",")] == [(one, True) for one in meant.split()]
    assert guess.is_sure


@pytest.fixture
def american(tmp_path):
    text = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")
    text = text.replace('"en_GB"', '"en_US"').replace('"GBP"', '"USD"', 1)
    (tmp_path / PROGRAM_FILE).write_text(text, encoding="utf-8")
    return read_program(tmp_path / PROGRAM_FILE)


def test_an_area_without_a_code_is_called_by_its_name(folder):
    text = AREAS.replace("area_id,area_name", "area_id").replace("Q1,", "").replace("Q2,", "")
    (folder / "areas.csv").write_text(text, encoding="utf-8")
    found = looked(folder, kerbside_service="Refuse only", is_priority="N")
    assert found.sheets[0].lacking() == []
    intake = read_files(
        [folder / "areas.csv"],
        read_program(folder / PROGRAM_FILE),
        lambda _: pl.DataFrame(schema={"area_id": pl.String}),
    )
    good = intake[0].sheets[0].good()
    assert good["area_name"].to_list() == good["area_id"].to_list() == ["Elm", "Oak"]


ANSWERS = (
    "wave_id,household_id,answer_date,is_in_use,prior_residual_bin_share\n"
    "Before,H1,03/01/2026,,0.8\nbefore ,H2,09/01/2026,,0.5\n"
    "=Summer,H1,05/07/2026,yes,\n=Summer,H2,02/07/2026,no,\n"
)


def look_at_answers(folder, *, keep=True):
    (folder / "answers.csv").write_text(ANSWERS, encoding="utf-8")
    return look_at_files(folder, [folder / "answers.csv"], Answers(), lambda _: None, keep=keep)


def test_rounds_that_no_sheet_lists_are_begun_from_their_answers(folder):
    found = look_at_answers(folder)
    rounds = found.missing["waves"].drop("follows_wave_id").rows()
    assert rounds == [
        ("Before", "baseline", dt.date(2026, 1, 3), dt.date(2026, 1, 9)),
        ("=Summer", "followup", dt.date(2026, 7, 2), dt.date(2026, 7, 5)),
    ]
    book = openpyxl.load_workbook(found.missing_file)
    assert book["waves"]["A4"].value == "'=Summer"  # no spreadsheet runs it
    assert [cell.value for cell in book["waves"]["E"][2:]] == [None, None]


def test_days_are_those_of_answers_and_a_later_round_may_ask_of_before_too(folder):
    (folder / "answers.csv").write_text(
        "wave_id,household_id,stopped_date,answer_date,is_in_use,prior_residual_bin_share\n"
        "Late,H1,01/02/2025,05/07/2026,no,0.8\nLate,H2,,09/07/2026,yes,0.5\n",
        encoding="utf-8",
    )
    found = look_at_files(folder, [folder / "answers.csv"], Answers(), lambda _: None, keep=False)
    (late,) = found.missing["waves"].drop("follows_wave_id").rows()
    assert late == ("Late", "followup", dt.date(2026, 7, 5), dt.date(2026, 7, 9))


def test_a_correction_without_names_leaves_the_names_there_are(folder):
    text = AREAS.replace("area_id,area_name", "area_id").replace("Elm,", "").replace("Oak,", "")
    (folder / "areas.csv").write_text(text, encoding="utf-8")
    looked(folder, kerbside_service="Refuse only", is_priority="N")
    stored = pl.DataFrame({"area_id": ["Q1"], "area_name": ["Elm"]})
    program = read_program(folder / PROGRAM_FILE)
    (read,) = read_files([folder / "areas.csv"], program, lambda _: stored)
    assert read.sheets[0].good()["area_name"].to_list() == ["Elm", "Q2"]


@pytest.mark.thorough
def test_a_workbook_that_waits_is_not_written_again(folder):
    first = look_at_answers(folder).missing_file
    book = openpyxl.load_workbook(first)
    book["waves"]["B3"] = "followup"
    book.save(first)
    held = first.read_bytes()
    assert look_at_answers(folder).missing_file == first
    assert first.read_bytes() == held
    book["waves"]["A3"] = "another"
    book.save(first)
    assert look_at_answers(folder).missing_file.name == "records_to_complete_2.xlsx"


def test_a_dry_look_writes_no_workbook(folder):
    assert not look_at_answers(folder, keep=False).missing_file.exists()


def test_an_answer_that_nothing_asks_for_is_told_while_questions_are_open(folder):
    answers = Answers(words={"Thre tray": "two_tray"})
    files = [folder / "areas.csv"]
    found = look_at_files(folder, files, answers, lambda _: None, keep=False)
    assert any('"Thre tray"' in note for note in found.notes)


FORM = (
    "Timestamp,Application #,First and last name,Email Address,Street address,Zip code,Ward,"
    "What type of home do you live in?,How many people live in your household?,"
    "Have you composted before?\n"
)
SIGNED = "3/{n}/2026 9:30,A-{n},Ann Other{n},a{n}@example.org,{n} Made-up St,99901,N,House,3,Yes\n"


def test_the_answers_to_a_form_are_known_by_what_it_asks(tmp_path, american):
    text = FORM + "".join(SIGNED.format(n=n) for n in range(1, 9))
    # forms call whatever they ask responses, which survey answers are called too
    guess, _ = guessed(tmp_path, american, "Form Responses 1", text)
    assert guess.table in ("contacts", "households", "registrations")
    # whether somebody may be written to is not guessed from any yes
    of_households = guess_sheet(guess.sheet, context_of(american, None), {}, "households")
    meant = {one.heading: one.column for one in of_households.columns}
    assert meant["What type of home do you live in?"] == "dwelling"
    assert meant["Have you composted before?"] is None


def test_a_count_of_bins_is_no_serial_number(tmp_path, american):
    head = "Application #,Picked up on,Bin type,Bins,Worms (lb)\n"
    rows = "".join(f"A-{n},3/{n}/2026,Two-tray,1,1\n" for n in range(1, 9))
    guess, found = guessed(tmp_path, american, "pickup log", head + rows)
    assert guess.table == "handovers"
    assert found["Bins"][0] == "bins_count"


def test_a_question_where_most_scraps_went_is_known(tmp_path, american):
    head = "Date,Household #,Still using it?,Before the bin where did most of your scraps go?\n"
    rows = "".join(
        f"6/{n}/2026,A-{n},Yes,{route}\n"
        for n, route in enumerate(["Trash", "Backyard compost", "Chickens"], start=1)
    )
    _, found = guessed(tmp_path, american, "survey", head + rows)
    assert found["Before the bin where did most of your scraps go?"][0] == "prior_main_route"


@pytest.mark.parametrize(
    ("name", "head", "row", "key", "named"),
    [
        ("wards", "Ward,Ward ID,Houses,Flats", "Elm,W{n},1{n},2", "area_id", "area_name"),
        ("areas", "Ward,Ward #,Houses,Flats", "Elm,W{n},1{n},2", "area_id", "area_name"),
        ("vendors", "Vendor,Vendor ID,Phone", "Worms{n},V{n},555", "supplier_id", "supplier_name"),
        ("surveys", "Survey,Survey ID,Opens", "Spring,B{n},3/1{n}/2026", "wave_id", None),
        ("sites", "Site,Site code,Type", "Elm School,S{n},school", "site_id", None),
        ("quartiers", "Secteur,N° secteur,Maisons", "Nord,Q{n},1{n}", "area_id", "area_name"),
    ],
)
def test_of_a_heading_and_the_same_with_id_the_first_is_a_name(
    tmp_path, american, name, head, row, key, named
):
    rows = "\n".join(row.format(n=n) for n in range(1, 5))
    _, found = guessed(tmp_path, american, name, f"{head}\n{rows}\n")
    bare, numbered, _ = list(found)[:3]
    assert (found[bare][0], found[numbered][0]) == (named, key)


def test_quotes_of_mixed_goods_are_asked_for_item_by_item(folder):
    quotes = (
        "Supplier,Item,Pack size,Min order,Lead time (days),Valid from,Valid to,Price\n"
        "Worm farm,Two-tray stacked bin,1,2,7,2026-01-01,2027-12-31,60\n"
        "Worm farm,Tiger worms,1,2,7,2026-01-01,2027-12-31,60\n"
        "Worm farm,Coir,5,2,7,2026-01-01,2027-12-31,12\n"
    )
    (folder / "quotes.csv").write_text(quotes, encoding="utf-8")
    found = look_at_files(folder, [folder / "quotes.csv"], Answers(), lambda _: None, keep=False)
    (about,) = [one for one in found.open_questions if one.kind != "column"]
    assert (about.about, about.within) == ("Tiger worms", "item_id")
    assert {"two_tray", "Eisenia fetida", "coir"} <= {*about.choices}


def test_whom_to_ring_at_a_supplier_is_neither_its_name_nor_its_contract(tmp_path, program):
    guess, found = guessed(
        tmp_path,
        program,
        "suppliers",
        "Supplier,ABN,Contact,Phone,Email,Freight per drop\n"
        "Worm farm,51 000 000 011,Kerry Moss,03 5550 0101,sales@worms.example,38\n",
    )
    assert guess.table == "suppliers"
    taken = {heading: column for heading, (column, _) in found.items()}
    assert (taken["Contact"], taken["Phone"], taken["Email"]) == (None, None, None)
    assert taken["ABN"] == "tax_number"


def test_a_forms_own_choices_do_not_hide_what_it_asks(tmp_path, program):
    # the choices are words that nobody knows yet: they are asked for, one by one
    homes = ("Petite maison de rang", "Loft au-dessus d'un commerce")
    rows = "".join(f"H{n},{homes[n % 2]},{n % 4 + 1},non\n" for n in range(20))
    asked = "Dans quel type de logement habitez-vous?,Combien êtes-vous à la maison?"
    head = f"No dossier,{asked},Remarques\n"
    _, found = guessed(tmp_path, program, "households", head + rows)
    assert found["Dans quel type de logement habitez-vous?"][0] == "dwelling"
    assert found["Combien êtes-vous à la maison?"][0] == "people_count"


def test_how_many_live_in_a_home_is_no_mass_of_scraps(tmp_path, program):
    head = "Votre numéro de dossier,Horodateur,Combien êtes-vous à la maison?,Autres commentaires\n"
    rows = "".join(f"H{n},2026-05-0{n % 9 + 1},{n % 4 + 1},\n" for n in range(20))
    _, found = guessed(tmp_path, program, "answers", head + rows)
    assert found["Combien êtes-vous à la maison?"][0] is None
    assert found["Autres commentaires"][0] is None


def test_a_case_without_a_number_names_its_household(tmp_path, program):
    path = tmp_path / "cases.csv"
    text = "Dossier,Signalé le,Problème\nH1,2026-05-04,odeur\nH2,2026-05-05,mouches\n"
    path.write_text(text, encoding="utf-8")
    (sheet,), _ = read_sheets(path)
    known = {"households": pl.DataFrame({"fold": ["h1", "h2"], "key": ["H1", "H2"]})}
    guess = guess_sheet(sheet, context_of(program, None), known)
    assert (guess.table, guess.columns[0].column) == ("cases", "household_id")
