"""From the waiting list to the run sheet and back, in one invented season."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import json
import re
import shutil

import openpyxl
import polars as pl
import pytest
import vobject

from planner import run
from planner.errors import ProgramError
from planner.field.booking import PlacesRequest, book_places
from planner.loading import load_files
from planner.messages import keys, messages_for
from planner.paths import SAMPLE_PROGRAMS
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.queries.given import frame

TODAY = dt.date(2025, 2, 1)
NAMES = [f"Person Number{n:02d}" for n in range(14)]
DAYS = [
    {"event_id": "E1", "event_date": dt.date(2025, 3, 1), "places_count": 6, "venue": "Hall"},
    {"event_id": "E2", "event_date": dt.date(2025, 2, 5), "places_count": 2},
]


def write(folder, tables, mark):
    with open_store(folder) as store, writing(store) as writer:
        load_id = writer.begin_load(f"{mark}.xlsx", mark)
        for table, rows in tables.items():
            writer.write(load_id, table, frame(table, rows))


@pytest.fixture
def town(prepared, tmp_path):
    return shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Give fourteen households in line for two days."""
    place = tmp_path_factory.mktemp("prepared")
    text = (SAMPLE_PROGRAMS / "valdorra" / "program.toml").read_text(encoding="utf-8")
    # the outlines are of no concern here
    text = text.replace("[map]", "[hand_over]\nnotice_days = 10\n\n[map]")
    (place / "program.toml").write_text(text, encoding="utf-8")
    homes = [f"H{n:02d}" for n in range(14)]
    contact = {"street_address": "1 Secret Way", "postcode": "0101", "phone": "555 0199"}
    tables = {
        "areas": [{"area_id": "A"}],
        "households": [{"household_id": h} for h in homes],
        "contacts": [
            {"household_id": h, "full_name": name, **contact}
            for h, name in zip(homes, NAMES, strict=True)
        ],
        "events": DAYS,
        "registrations": [
            {"household_id": h, "registered_date": dt.date(2025, 1, 9), "model_id": "caja_dos"}
            for h in homes
        ],
    }
    write(place, tables, "start")
    return place


def give(town, **options):
    return book_places(town, PlacesRequest(TODAY, dt.date(2025, 12, 31), "seven 3 11"), **options)


def test_another_person_can_make_the_draw_again_from_its_two_files(town):
    found = give(town)
    place = town / "hand_over_days" / "2025-02-01"
    audit = json.loads((place / "draw.json").read_text(encoding="utf-8"))
    with (place / "draw_list.csv").open(encoding="utf-8-sig") as lines:
        listed = list(csv.DictReader(lines))
    assert audit["words"] == "seven 3 11"
    again = sorted(
        listed,
        key=lambda row: (
            audit["groups"].index(row["group"]),
            row["period"],
            hashlib.sha256(f"{audit['words']}|{row['household_id']}".encode()).hexdigest(),
        ),
    )
    assert again == listed
    room = sum(day["room"] for day in audit["room"].values())
    assert [bool(row["given_event_id"]) for row in again] == [n < room for n in range(14)]
    ids = "\n".join(sorted(row["household_id"] for row in listed))
    assert hashlib.sha256(ids.encode()).hexdigest() == audit["households_sha256"]
    assert found.given.height == room == 8


def test_a_near_day_is_told_by_telephone_and_a_dry_run_writes_nothing(town):
    found = give(town, dry_run=True)
    ways = dict(found.given.select("given_event_id", "offered_by").unique().iter_rows())
    assert ways == {"E1": "mail", "E2": "telephone"}
    assert not (town / "hand_over_days").exists()
    assert not (town / "private").exists()


def test_calendar_files_hold_what_rfc_5545_asks_for_by_another_reader(town):
    give(town)
    files = sorted((town / "hand_over_days" / "2025-02-01" / "calendar").glob("E1_*.ics"))
    raw = files[0].read_bytes()
    # section 3.1: lines end with CRLF and are no longer than 75 octets
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert raw.count(b"\n") == raw.count(b"\r\n")
    calendar = vobject.readOne(raw.decode())
    # 3.6: PRODID and VERSION; 3.6.1: UID and DTSTAMP once, in UTC; 3.3.5 form 1: local time
    assert calendar.version.value == "2.0"
    assert calendar.prodid.value
    entry = calendar.vevent
    assert entry.dtstamp.value == dt.datetime(2025, 2, 1, tzinfo=entry.dtstamp.value.tzinfo)
    assert entry.dtstart.value == dt.datetime(2025, 3, 1, 9, 0)
    assert entry.dtend.value - entry.dtstart.value == dt.timedelta(minutes=30)
    assert entry.location.value == "Hall"
    uids = [vobject.readOne(file.read_text()).vevent.uid.value for file in files]
    assert len(set(uids)) == len(files)


def entry_of(path):
    calendar = vobject.readOne(path.read_bytes().decode())
    return calendar.method.value, calendar.vevent


def test_places_called_off_leave_calendars_as_rfc_5546_asks_and_are_told_once(town):
    give(town)
    place = town / "hand_over_days"
    load(town, place / "2025-02-01" / "bookings_to_load.xlsx")
    with open_store(town, read_only=True) as store:
        held = store.records("bookings")
    one_of_e2 = held.filter(event_id="E2").row(0, named=True)
    changed = [{**one_of_e2, "state": "declined"}]
    write(town, {"events": [{**DAYS[0], "event_status": "cancelled"}], "bookings": changed}, "off")
    later_day = TODAY + dt.timedelta(days=3)
    # no day is left to fill, and still they are told
    book_places(town, PlacesRequest(later_day, dt.date(2025, 12, 31)))
    later = place / "2025-02-04" / "calendar_cancelled"
    assert len({file.name[:2] for file in later.iterdir()}) == 2
    for file in later.iterdir():
        method, entry = entry_of(file)
        published, before = entry_of(place / "2025-02-01" / "calendar" / file.name)
        assert (published, method) == ("PUBLISH", "CANCEL")
        # the table of section 3.2.5: UID of the first file, SEQUENCE raised (2.1.4), one
        # ORGANIZER and DTSTAMP, STATUS is CANCELLED, no VALARM; RFC 5545, 3.8.7.4: 0 at first
        assert entry.uid.value == before.uid.value
        assert (int(before.sequence.value), int(entry.sequence.value)) == (0, 1)
        assert entry.organizer.value == before.organizer.value
        assert entry.organizer.value.startswith(("mailto:", "urn:"))
        assert entry.status.value == "CANCELLED"
        assert entry.dtstamp.value > before.dtstamp.value
        assert "valarm" in before.contents
        assert not {"valarm", "attendee", "recurrence-id"} & set(entry.contents)
    private = town / "private" / "called_off_2025-02-04.xlsx"
    rows = list(openpyxl.load_workbook(private).active.iter_rows(min_row=2, values_only=True))
    told = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    of_e1 = held.filter(event_id="E1")["booking_id"].to_list()
    assert {row["booking_id"] for row in told} == {*of_e1, one_of_e2["booking_id"]}
    assert {row["calendar_file"] for row in told} == {file.name for file in later.iterdir()}
    assert all(row["full_name"] in NAMES for row in told)
    assert "Person" not in whole_text(place / "2025-02-04" / "called_off.csv")
    with pytest.raises(ProgramError, match=r"called_off\.csv.*--force"):
        book_places(town, PlacesRequest(later_day, dt.date(2025, 12, 31)))
    with pytest.raises(ProgramError, match="31 de diciembre de 2025"):
        book_places(town, PlacesRequest(later_day + dt.timedelta(days=1), dt.date(2025, 12, 31)))


def test_an_invitation_of_an_earlier_version_leaves_calendars_by_the_name_it_was_sent_under(town):
    give(town)
    place = town / "hand_over_days"
    load(town, place / "2025-02-01" / "bookings_to_load.xlsx")
    sent = sorted((place / "2025-02-01" / "calendar").glob("E1_*.ics"))
    for file in sent:
        earlier = f"UID:E1-{file.stem[3:]}-2025-03-01@wormbin-planner"
        file.write_bytes(re.sub(rb"UID:[^\r]+(\r\n [^\r]+)*", earlier.encode(), file.read_bytes()))
    write(town, {"events": [{**DAYS[0], "event_status": "cancelled"}]}, "off")
    book_places(town, PlacesRequest(TODAY + dt.timedelta(days=3), dt.date(2025, 12, 31)))
    for file in sent:
        cancelled = place / "2025-02-04" / "calendar_cancelled" / file.name
        method, entry = entry_of(cancelled)
        assert (method, entry.uid.value) == ("CANCEL", entry_of(file)[1].uid.value)
        assert entry.uid.value.endswith("-2025-03-01@wormbin-planner")


def test_names_stand_in_private_alone(town):
    give(town)
    load(town, town / "hand_over_days" / "2025-02-01" / "bookings_to_load.xlsx")
    run.day_papers(town, "E1")
    open_files = [p for p in (town / "hand_over_days").rglob("*") if p.is_file()]
    assert len(open_files) >= 5
    for path in [*open_files, town / "program.duckdb"]:
        text = whole_text(path)
        assert not any(said in text for said in ("Person Number", "Secret Way", "555 0199")), path
    assert "Person Number" in whole_text(town / "private" / "run_sheet_E1.xlsx")
    papers = [*open_files, town / "private" / "run_sheet_E1.xlsx"]
    papers += sorted((town / "private").glob("invitations*.xlsx"))
    written = " ".join(whole_text(path) for path in papers if path.suffix != ".json")
    english, spanish = said_in("en"), said_in("es")
    assert [words for words in english if words in written] == []
    assert len([words for words in spanish if words in written]) > 5


def said_in(language):
    """Whole phrases of a day's papers, up to what is filled in."""
    words = messages_for(language)
    beginnings = ("calendar.", "invite.", "door.", "label.", "run_sheet.")
    texts = [words.text(key) for one in beginnings for key in keys(one)]
    parts = [part.strip() for text in texts for part in re.split(r"{\w+}|\|", text)]
    return [part for part in parts if len(part.split()) > 1 and "came" not in part]


def whole_text(path):
    if path.suffix == ".xlsx":
        book = openpyxl.load_workbook(path)
        return str([[c.value for c in row] for sheet in book for row in sheet.iter_rows()])
    if path.suffix == ".docx":
        import docx

        return str([c.text for t in docx.Document(path).tables for r in t.rows for c in r.cells])
    return path.read_bytes().decode("utf-8", errors="ignore")


def load(town, path):
    found = load_files(town, [path])
    assert found.files[0].problems.is_empty(), found.files[0].problems
    return found


def test_the_filled_run_sheet_comes_back_as_states_and_hand_overs(town):
    give(town)
    load(town, town / "hand_over_days" / "2025-02-01" / "bookings_to_load.xlsx")
    path = run.day_papers(town, "E1").files[0][0]
    fill(path)
    load(town, path)
    with open_store(town, read_only=True) as store:
        bookings, handed = store.records("bookings"), store.records("handovers")
    states = bookings.filter(event_id="E1")["state"].cast(pl.String).value_counts().rows()
    assert dict(states) == {"came": 4, "absent": 1, "moved": 1}
    came = bookings.filter(event_id="E1", state="came")
    assert set(handed["household_id"]) == set(came["household_id"])
    assert handed["handover_date"].unique().to_list() == [dt.date(2025, 3, 1)]
    assert handed["copayment"].to_list() == [15.0] * 4
    assert handed["worms_kg"].min() > 0.0


def fill(path):
    """Write what people write, and what a spreadsheet program would work out from it."""
    book = openpyxl.load_workbook(path)
    sheet, handovers = book["bookings"], book["handovers"]
    at = {cell.value: cell.column for cell in sheet[5]}
    sheet["E3"].value = 1.5
    columns = [cell.value for cell in handovers[1]]
    for number, state in enumerate(["came", "came", "absent", "came", "moved", "came"]):
        row = 6 + number
        sheet.cell(row, at["state"]).value = state
        sheet.cell(row, at["copayment"]).value = 15.0
        taken = {
            "handover_id": f"{sheet.cell(row, at['booking_id']).value}-B",
            "household_id": sheet.cell(row, at["household_id"]).value,
            "event_id": "E1",
            "model_id": sheet.cell(row, at["model_id"]).value,
            "handover_date": dt.date(2025, 3, 1),
            "worms_kg": sheet["E2"].value,
            "bedding_kg": 1.5,
            "copayment": 15.0,
        }
        for place, name in enumerate(columns, start=1):
            cell = handovers.cell(2 + number, place)
            assert cell.value is None or '="came"' in cell.value
            cell.value = taken.get(name) if state == "came" else None
    book.save(path)


def test_a_place_let_go_is_given_to_the_next_in_line(town):
    first = give(town)
    path = town / "hand_over_days" / "2025-02-01" / "bookings_to_load.xlsx"
    load(town, path)
    book = openpyxl.load_workbook(path)
    sheet = book["bookings"]
    at = {cell.value: cell.column for cell in sheet[1]}
    row = next(r for r in range(2, 12) if sheet.cell(r, at["event_id"]).value == "E1")
    sheet.cell(row, at["state"]).value = "declined"
    left = sheet.cell(row, at["household_id"]).value
    book.save(path)
    load(town, path)
    second = give(town, dry_run=True)
    waiting = [
        h for h in first.line.ordered["household_id"] if h not in set(first.given["household_id"])
    ]
    assert second.given["household_id"].to_list() == [waiting[0]]
    assert left in second.line.ordered["household_id"].to_list()


def test_what_stands_in_the_way_is_said(town):
    with pytest.raises(ProgramError, match="Nobody holds a place at E1"):
        run.day_papers(town, "E1")
    with pytest.raises(ProgramError, match="no such hand-over day"):
        run.day_papers(town, "E9")
    give(town)
    with pytest.raises(ProgramError, match="--force"):
        give(town)
