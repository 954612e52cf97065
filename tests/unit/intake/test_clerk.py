"""What a person reads in a sheet at a glance is read, or asked for, and never guessed silently."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from planner.intake.cells import country, days_named
from planner.intake.questions import Answers
from planner.intake.reading import read_files
from planner.looking import look_at_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.tables import TABLES
from tests.unit.intake.told import sentences

YEARS = (dt.date(2026, 4, 1), dt.date(2027, 3, 31))
WEDNESDAY = dt.date(2026, 6, 3)  # ISO 8601 week 2026-W23, its third day


@pytest.fixture
def folder(tmp_path):
    text = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")
    (tmp_path / PROGRAM_FILE).write_text(text, encoding="utf-8")
    return tmp_path


def looked_and_read(folder, texts, answers=None, accepted=frozenset(), **keys):
    """Look at files as one who presses Enter, then read them; `keys` are those of the store."""
    files = [folder / f"{name}.csv" for name in texts]
    for file, text in zip(files, texts.values(), strict=True):
        file.write_text(text, encoding="utf-8")
    asked = []

    def enter(question):
        asked.append(question)
        return question.guess or None

    looked = look_at_files(folder, files, answers or Answers(), enter, keep=True)

    def known(table):
        key = TABLES[table].primary_key()[0]
        return pl.DataFrame({key: keys.get(table, [])}, schema={key: pl.String})

    program = read_program(folder / PROGRAM_FILE)
    read = read_files(files, program, known, accepted=accepted) if not looked.open_questions else ()
    return looked, asked, read


@pytest.mark.parametrize(
    ("name", "locale", "days", "is_sure"),
    [
        ("Wed 3 Jun", "en_GB", [WEDNESDAY], True),
        ("June 3rd", "en_US", [WEDNESDAY], True),
        ("mer. 3 juin", "fr_FR", [WEDNESDAY], True),
        ("mié 3 jun 26", "es_ES", [WEDNESDAY], True),
        ("mar 2 mar", "es_ES", [dt.date(2027, 3, 2)], True),  # a Tuesday
        ("2026-06-03", "en_GB", [WEDNESDAY], True),
        ("Bins 03.06.2026", "de_DE", [WEDNESDAY], True),
        ("06-03-26", "en_US", [WEDNESDAY], True),
        ("20260603", "en_US", [WEDNESDAY], True),
        ("Wed 6-3", "en_US", [WEDNESDAY], True),
        ("Page 6-3", "en_US", [], False),
        ("Mon 3 Jun", "en_GB", [WEDNESDAY], False),
        ("31 June", "en_GB", [], False),
        ("Sheet1", "en_GB", [], False),
        ("answers 2026", "en_GB", [], False),
    ],
)
def test_the_name_of_a_sheet_may_be_a_day(name, locale, days, is_sure):
    assert days_named(name, country(locale), YEARS) == (days, is_sure)


def test_a_sheet_for_each_day_needs_no_column_of_days(folder):
    text = "Household no,Model,Worms (kg),Bedding (kg)\n"
    days = {"Wed 3 Jun": f"{text}H1,two_tray,0.25,1\n", "Thu 4 Jun": f"{text}H2,two_tray,0.5,1\n"}
    _, asked, read = looked_and_read(folder, days, households=["H1", "H2"])
    # the second sheet has the headings of the first
    assert [one.kind for one in asked] == ["table"]
    good = [rows.good()["handover_date"].to_list() for file in read for rows in file.sheets]
    assert good == [[WEDNESDAY], [dt.date(2026, 6, 4)]]


def test_the_day_of_last_years_sheet_of_the_same_name_waits_for_a_yes(folder):
    text = "household_id,model_id,worms_kg,bedding_kg\nH1,two_tray,0.25,1\n"
    (folder / "3 Jun.csv").write_text(text, encoding="utf-8")
    path = folder / PROGRAM_FILE
    held = '[every_row.handovers]\n"3 Jun.csv: handover_date" = "2026-06-03"\n[columns.handovers]\n'
    held += 'household_id = "household_id"\n'
    path.write_text(f"{path.read_text('utf-8')}\n{held}", encoding="utf-8")
    program = read_program(path)
    following = program.reporting_years[0].model_copy(update={"reporting_year": "2027-28"})
    program = program.model_copy(update={"reporting_years": (*program.reporting_years, following)})

    def proposed(day):
        known = {"households": pl.DataFrame({"household_id": ["H1"]})}
        empty = pl.DataFrame(schema={"handover_id": pl.String, "event_id": pl.String})
        files = [folder / "3 Jun.csv"]
        (read,) = read_files(files, program, lambda one: known.get(one, empty), loaded_on=day)
        return [one.name for one in read.proposals()]

    assert proposed(dt.date(2027, 6, 2)) == []
    assert proposed(dt.date(2027, 6, 3)) == ["handovers.handover_date.held_day"]


def test_a_day_of_another_weekday_is_asked_for(folder):
    text = "Household no,Model,Worms (kg),Bedding (kg)\nH1,two_tray,0.25,1\n"
    looked, _, _ = looked_and_read(folder, {"Mon 3 Jun": text})
    (question,) = looked.open_questions
    assert (question.about, question.choices) == ("Mon 3 Jun.csv: handover_date", ("2026-06-03",))


OFFERS = (
    "Offer,Supplier,Item,Bins per pack,Minimum packs,Lead time (days),Valid from,Valid until,"
    "1-49,50-199,200+\n"
    "O1,S1,two_tray,1,1,10,2026-04-01,2027-03-31,40,36,33\n"
    "O2,S1,two_tray,1,1,14,2026-04-01,2027-03-31,41,35,\n"
)


def test_prices_side_by_side_are_read_with_their_breaks(folder):
    answers = Answers(every_row={"price_break_kind": "all_units"})
    _, _, (read,) = looked_and_read(folder, {"offers": OFFERS}, answers, suppliers=["S1"])
    (rows,) = read.sheets
    names = ("price_per_pack", "second_from_packs_count", "second_price_per_pack")
    names = (*names, "third_from_packs_count", "third_price_per_pack")
    assert rows.good().select(names).rows() == [
        (40.0, 50, 36.0, 200, 33.0),
        (41.0, 50, 35.0, None, None),
    ]
    assert any("50-199, 200+" in note for note in rows.notes)


def test_ages_side_by_side_are_no_prices(folder):
    looked, asked, _ = looked_and_read(folder, {"offers": OFFERS.replace("50-199", "60-199")})
    assert "price_per_pack" in [one.about for one in asked]
    meant = {one.heading: one.column for one in looked.sheets[0].columns}
    assert {meant["1-49"], meant["60-199"], meant["200+"]} == {None}


def test_of_several_choices_in_a_cell_each_is_asked_for_and_the_first_proposed(folder):
    head = "Round,Household no,Date answered,Still using it?,Problem\n"
    told = ("flies", "flies; worms all over", "worms all over", "none", "smell, flies")
    rows = "".join(f"R1,H{n},2026-06-0{n % 8 + 1},yes,{told[n % 5]!r}\n" for n in range(20))
    texts = {"answers": head + rows.replace("'", '"')}
    answers = Answers(words={"worms all over": "worms_escaped"})
    stored = {"waves": ["R1"], "households": [f"H{n}" for n in range(20)]}
    looked, asked, (read,) = looked_and_read(folder, texts, answers, **stored)
    assert looked.words["synonyms"]["problem"] == {"worms all over": "worms_escaped"}
    assert [one.about for one in asked if one.kind == "word"] == []
    (proposal,) = read.proposals()
    assert (proposal.name, proposal.count) == ("answers.problem.first_choice", 8)
    accepted = frozenset([proposal.name])
    _, _, (read,) = looked_and_read(folder, texts, answers, accepted, **stored)
    (rows,) = read.sheets
    assert rows.good()["problem"].cast(pl.String).to_list()[:5] == [
        *("flies", "flies", "worms_escaped", "none", "smell"),
    ]


AREAS = "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
AREAS += "kerbside_service,is_priority\n"


@pytest.mark.parametrize(
    ("marks", "priority"),
    [
        (("x", ""), [True, False]),
        (("x", "no", ""), [True, False]),
        (("yes", "yes", ""), [True, True]),
    ],
)
def test_an_empty_box_is_no_where_yes_alone_is_ticked(read, marks, priority):
    rows = "".join(f"A{n},North,1,1,1,1,residual_only,{one}\n" for n, one in enumerate(marks))
    (file,) = read({"areas.csv": AREAS + rows})
    assert file.sheets[0].good()["is_priority"].to_list() == priority
    assert file.problems()["row_number"].to_list() == [4] * (len(marks) - 2)


def test_marks_in_a_column_name_no_event(folder):
    text = "Household no,Model,Remis,Date,Worms (kg),Bedding (kg)\n"
    rows = "".join(f"H{n},two_tray,{('x', 'Remis', '')[n % 3]},2026-06-03,1,1\n" for n in range(6))
    events = "event_id,event_date,places_count\nE1,2026-06-03,20\n"
    looked, _, _ = looked_and_read(folder, {"handovers": text + rows, "events": events})
    assert [one.column for one in looked.sheets[0].columns][2] is None
    assert any('"Remis" marks 4 of 6 rows' in note for note in looked.notes)


def test_whom_to_ring_at_suppliers_are_no_households(folder):
    text = "Supplier,Contact person,Phone,Email,Address,Postcode\n"
    text += "Worm farm,Kerry Moss,03 5550 0101,sales@worms.example,1 Made-up Lane,9990\n"
    for name in ("contacts", "supplier contacts"):
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
        files = [folder / f"{name}.csv"]
        looked = look_at_files(folder, files, Answers(), lambda _: None, keep=False)
        assert not [one for one in looked.sheets[0].columns if one.column == "full_name"]


def test_what_to_write_is_in_the_unit_of_the_heading(read):
    head = "household_id,week_start_date,fed (lb)\n"
    (file,) = read({"weighings.csv": f"{head}H1,2026-06-01,2-3\nH2,2026-06-01,1 to 2 kg\n"})
    told = file.problems().filter(column_name="fed_kg")["expected"]
    # 1.5 kg are 3.306934 lb of 0.45359237 kg (international yard and pound agreement, 1959)
    assert [one.rpartition(" ")[2] for one in told] == ["2.5.", "3.306934."]


def test_a_refused_cell_is_named_as_the_officer_calls_its_column(read):
    own = {"weighings": {"Property": "household_id", "Scraps": "fed_kg"}}
    text = "Property,week_start_date,Scraps\nH1,2026-06-01,some\n"
    (file,) = read({"weighings.csv": text}, columns=own)
    (said,) = [one for one in sentences(file.problems()) if "some" in one]
    assert 'row 2, "Scraps" (fed_kg): found "some"' in said


def test_the_sign_that_keeps_a_text_from_being_read_is_no_part_of_it(read):
    head = "household_id,week_start_date,fed_kg\n"
    (file,) = read({"weighings.csv": f"{head}'100,'2026-06-01,'1.5\n"})
    good = file.sheets[0].good().select("household_id", "week_start_date", "fed_kg")
    assert good.is_empty()  # nobody has registered yet
    assert file.problems()["value"].to_list() == ["100"]


def test_a_title_right_over_the_headings_is_no_part_of_them(folder):
    text = "Bins given out,,,\nHousehold no,Model,Worms (kg),Bedding (kg)\nH1,two_tray,0.25,1\n"
    looked, _, _ = looked_and_read(folder, {"Wed 3 Jun": text}, households=["H1"])
    assert looked.sheets[0].columns[0].heading == "Household no"


def test_a_group_of_headings_keeps_its_name_when_a_sheet_is_parted(folder):
    text = (
        "No,Person,,Contact,,Home,,Registered,OK to contact\n"
        ",Surname,Nickname,Street address,Postcode,Type,People,,\n"
    )
    rows = "".join(f"H{n},Roe{n},Jo,{n} Made-up St,9990,house,2,2026-06-03,yes\n" for n in range(5))
    (folder / "register.csv").write_text(text + rows, encoding="utf-8")
    looked = look_at_files(
        folder, [folder / "register.csv"], Answers(), lambda one: one.guess or None, keep=False
    )
    assert {one.table for one in looked.sheets} >= {"households", "contacts"}
    headings = {one.heading for guess in looked.sheets for one in guess.columns}
    assert "Person Nickname" in headings
    assert not any("No Nick" in one for one in headings)


def test_what_may_turn_an_amount_round_or_bound_a_count_is_not_left_out(read):
    head = "cost_id,cost_date,category,amount\n"
    (file,) = read({"costs.csv": f"{head}C1,2026-06-03,bins,12.50 CR\n"})
    assert "12.5" not in file.problems()["expected"][0]
    head = "household_id,area_id,dwelling,people_count,registered_date,may_contact\n"
    (file,) = read({"households.csv": f"{head}H1,A1,house,2-3,2026-06-03,yes\n"})
    told = file.problems().filter(column_name="people_count")["expected"]
    assert "alone, 2" not in told[0]
