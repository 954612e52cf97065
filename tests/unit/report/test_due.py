"""What is due: each rule from records made for it, and the calendar by a reference library."""

from __future__ import annotations

import datetime as dt

import icalendar
import polars as pl
import pytest
from docx import Document

from planner.errors import ReportError
from planner.field.due import FIRST_CHECK_DAYS
from planner.paths import SAMPLE_PROGRAMS
from planner.program import read_program
from planner.report.due import Due, DueItem, Window, field_days, gathering
from planner.report.due.calendar import due_calendar, write_calendar, write_pack
from planner.report.due.gathering import gather_due
from planner.report.wording import Wording
from planner.store.keeping import back_up
from planner.store.opening import open_store
from tests.programs.conftest import copy_loaded

D = dt.date
PROGRAM = read_program(SAMPLE_PROGRAMS / "thornquay" / "program.toml")
WORDING = Wording.of(PROGRAM)
NOW = dt.datetime(2026, 11, 1, 8, 0, 0)


class Records:
    """Stands for a store: queries and tables that a test gives."""

    def __init__(self, **frames):
        self.frames = frames

    def query(self, name, **_):
        return self.frames[name]

    def records(self, name):
        return self.frames[name]

    keys = records

    def listed_loads(self):
        return self.frames["loads"]

    def refusals(self):
        return self.frames["refusals"]


def window(first, days=90):
    return Window.ahead(first, days, WORDING)


def test_orders_count_back_from_the_hand_over_day():
    # hand-over Saturday 7 March 2026; bedding ready 5 days before: Monday 2 March; two working
    # days on the road: sent Thursday 26 February; ten days of lead: Monday 16 February
    terms = {
        "supplier_id": ["S"], "transit_days": [2], "order_by_weekday": [None],
        "item_kind": ["bedding"], "lead_days": [10],
        "valid_from_date": [D(2025, 1, 1)], "valid_until_date": [D(2027, 1, 1)],
    }  # fmt: skip
    rows = pl.DataFrame(terms, schema_overrides={"order_by_weekday": pl.String})
    store = Records(
        upcoming_events=pl.DataFrame(
            {"event_id": ["E1"], "event_date": [D(2026, 3, 7)], "places_count": [50], "venue": [""]}
        ),
        offers=rows.select(
            "supplier_id", "item_kind", "lead_days", "valid_from_date", "valid_until_date"
        ),
        suppliers=rows.select("supplier_id", "transit_days", "order_by_weekday"),
        orders=pl.DataFrame(schema={"item_kind": pl.String, "delivery_date": pl.Date}),
    )
    settings = PROGRAM.ordering.model_copy(
        update={"ready_days_before": 5, "order_slack_days": 3, "public_holidays": ()}
    )
    program = PROGRAM.model_copy(update={"ordering": settings})
    (item,) = field_days.order_days(store, program, window(D(2026, 2, 1)))
    assert item.day == D(2026, 2, 13)
    assert not item.is_late
    (late,) = field_days.order_days(store, program, window(D(2026, 2, 17)))
    assert late.is_late
    assert late.day == D(2026, 2, 16)
    assert not list(field_days.order_days(store, program, window(D(2025, 6, 1), 30)))
    store.frames["orders"] = pl.DataFrame(
        {"item_kind": ["bedding"], "delivery_date": [D(2026, 3, 2)]}
    )
    assert not list(field_days.order_days(store, program, window(D(2026, 2, 17))))


def test_hand_over_days_tell_their_bookings_and_days_whose_run_sheet_is_not_loaded():
    store = Records(
        upcoming_events=pl.DataFrame(
            {
                "event_id": ["E2", "E3"], "event_date": [D(2026, 3, 7), D(2026, 4, 7)],
                "places_count": [1, 5], "venue": ["Hall", ""],
                "event_kind": ["pick_up", "delivery"], "booked_count": [2, 0],
            }
        ),
        events=pl.DataFrame(
            {"event_id": ["E1", "E2"], "event_date": [D(2026, 2, 1), D(2026, 3, 7)]}
        ),
        bookings=pl.DataFrame(
            {
                "event_id": ["E1", "E1", "E2", "E2", "E2"],
                "state": ["accepted", "came", "accepted", "offered", "declined"],
            }
        ),
    )  # fmt: skip
    ahead, empty, unloaded = field_days.hand_over_days(store, window(D(2026, 2, 10)))
    assert ahead.what == "Hand-over day E2 at Hall, 1 place: 1 said yes, 1 have not answered"
    assert ahead.command == "events --day E2"
    assert empty.what == "Delivery day E3, 5 places: no place given yet"
    assert empty.command == "events"
    assert unloaded.is_late
    assert unloaded.day == D(2026, 2, 1)
    assert "1 household came" in unloaded.what


def test_what_was_ordered_and_has_not_come_is_late_after_its_day():
    lines = pl.DataFrame(
        {
            "supplier_id": ["A", "A", "B"],
            "delivery_date": [D(2026, 1, 5), D(2026, 1, 5), D(2026, 1, 20)],
            "item_kind": ["bins", "worms", "worms"],
            "outstanding_quantity": [3.0, 1.0, 0.0],
        }
    )
    store = Records(orders_committed=lines)
    (item,) = field_days.deliveries(store, window(D(2026, 1, 6)))
    assert item.is_late
    assert "bins, worms from A" in item.what
    (ahead,) = field_days.deliveries(store, window(D(2026, 1, 1)))
    assert not ahead.is_late


def test_rounds_open_and_close_and_a_missing_one_is_named():
    waves = pl.DataFrame(
        {
            "wave_id": ["F1"], "wave_kind": ["followup"],
            "opens_date": [D(2025, 5, 1)], "closes_date": [D(2025, 5, 28)],
        }
    )  # fmt: skip
    response = pl.DataFrame(
        {
            "wave_id": ["F1"], "wave_kind": ["followup"], "opens_date": [D(2025, 5, 1)],
            "asked_count": [300], "answers_count": [93], "again_count": [0],
        }
    )  # fmt: skip
    handovers = pl.DataFrame({"handover_date": [D(2024, 1, 1)]})
    store = Records(waves=waves, handovers=handovers, wave_response=response)
    (silent,) = field_days.rounds(store, window(D(2025, 6, 1)))
    assert silent.command == "sample F1S --silent F1 --response 0.5"
    assert silent.what.startswith("31% answered survey round F1.")
    many = response.with_columns(answers_count=pl.lit(240))
    again = response.with_columns(again_count=pl.lit(60))
    for frame in (many, again):
        other = Records(waves=waves, handovers=handovers, wave_response=frame)
        assert not list(field_days.rounds(other, window(D(2025, 6, 1))))
    names = [item.name for item in field_days.rounds(store, window(D(2025, 4, 20)))]
    assert names == ["opens-F1", "closes-F1"]
    (missing,) = field_days.rounds(store, window(D(2026, 6, 1)))
    assert missing.day == D(2026, 5, 28)
    assert missing.is_late


def test_details_kept_long_enough_fall_due_the_day_after():
    privacy = PROGRAM.privacy.model_copy(update={"contacts_retention_months": 24})
    program = PROGRAM.model_copy(update={"privacy": privacy})
    store = Records(
        contacts=pl.DataFrame({"household_id": ["H1", "H2", "H3"]}),
        last_seen=pl.DataFrame(
            {
                "household_id": ["H1", "H2", "H3", "H4"],
                "seen_date": [D(2024, 1, 1), D(2024, 2, 10), D(2025, 6, 1), D(2020, 1, 1)],
            }
        ),
    )
    late, ahead = gathering.retention(store, program, window(D(2026, 1, 15)))
    assert late.is_late
    assert "1 household " in late.what
    assert ahead.day == D(2026, 2, 11)
    assert not list(gathering.retention(store, PROGRAM, window(D(2026, 1, 15))))


def test_refused_rows_are_counted_once_each_and_fixed_ones_not():
    refusals = pl.DataFrame(
        {
            "load_id": ["L1"] * 3, "file": ["a b.xlsx"] * 3,
            "table_name": ["answers"] * 3, "sheet": ["s"] * 3,
            "row_number": [2, 2, 3], "resolved_by_load_id": [None, None, "L2"],
        }
    )  # fmt: skip
    (item,) = gathering.refused_rows(Records(refusals=refusals), window(D(2026, 1, 1)))
    assert item.what.startswith("Fix 1 refused row in a b.xlsx")
    assert item.command == "load 'refused/L1_a b.xlsx'"


@pytest.fixture(scope="module")
def valdorra(tmp_path_factory):
    folder = tmp_path_factory.mktemp("due")
    copy_loaded(folder, "valdorra")
    return folder, read_program(folder / "program.toml")


def test_a_program_tells_what_is_late_first_and_a_backup_quiets_it(valdorra):
    folder, program = valdorra
    today = dt.datetime.now(tz=dt.UTC).date()
    found = gather_due(folder, program, today)
    order = [(not item.is_late, item.day) for item in found.items]
    assert order == sorted(order)
    names = {item.name for item in found.items}
    assert {"backup", "report-2025"} <= names
    program = program.model_copy(update={"reporting_years": program.reporting_years[:1]})
    assert "year-2025" in {item.name for item in gather_due(folder, program, today).items}
    assert len(names) == len(found.items), "names are what calendars tell entries by"
    assert {item.name for item in found.items} <= {item.name for item in found.year}
    back_up(folder, None, dt.datetime.now(tz=dt.UTC).replace(tzinfo=None))
    again = gather_due(folder, program, today)
    assert not [one for one in again.items if one.name == "backup" and one.is_late]
    assert again.backup is not None


def test_first_checks_come_two_weeks_after_the_hand_over(valdorra):
    folder, program = valdorra
    with open_store(folder, read_only=True) as store:
        handed = store.records("handovers")["handover_date"].max()
    found = gather_due(folder, program, handed, 90)
    checks = [item for item in found.items if item.name.startswith("check-")]
    assert checks
    assert all(0 < (item.day - handed).days <= FIRST_CHECK_DAYS[0] for item in checks)


def test_a_folder_without_records_says_to_load_the_first(tmp_path):
    found = gather_due(tmp_path, PROGRAM, D(2026, 1, 1))
    assert [item.name for item in found.items] == ["first"]
    assert not found.has_records


def due_of(*items):
    looked = window(D(2026, 1, 1))
    return Due(looked, items, items, None, None, "mark", has_records=True)


def test_the_calendar_holds_each_item_once_on_its_day():
    text = "Order worms, bins; see C:\\depot\nthen call " + "é" * 60
    item = DueItem(D(2026, 2, 28), text, "order", "order_worms-E1")
    content = due_calendar(due_of(item), PROGRAM, NOW)
    # RFC 5545, 3.1: lines of 75 octets at most, each ended by CR and LF
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
    (event,) = icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert event.decoded("dtstart") == D(2026, 2, 28)
    assert event.decoded("dtend") == D(2026, 3, 1)
    assert str(event["summary"]) == text
    assert str(event["uid"]) == "order_worms-E1-mark@wormbin-planner"
    (alarm,) = event.walk("VALARM")
    assert alarm.decoded("trigger") == dt.timedelta(days=-7)


def test_the_pack_tells_where_the_key_is_and_never_the_key(valdorra, tmp_path):
    folder, program = valdorra
    found = gather_due(folder, program, D(2026, 11, 1))
    files = write_pack(folder, tmp_path / "pack", program, found, NOW)
    assert sorted(path.name for path in files) == ["due.csv", "due.ics", "read-first.docx"]
    word = Document(tmp_path / "pack" / "read-first.docx")
    said = "\n".join(one.text or "" for one in word.element.body.iter() if one.tag.endswith("}t"))
    assert "program.key" in said
    assert "planner restore" in said
    assert "answers.csv" in said, "what is refused and open"
    secret = (folder / "program.key").read_text(encoding="utf-8").strip()
    assert secret
    assert not [path for path in files if secret.encode() in path.read_bytes()]
    with open_store(folder, read_only=True) as store:
        name = store.records("contacts")["full_name"][0]
    assert name not in said
    with pytest.raises(ReportError, match="already"):
        write_pack(folder, tmp_path / "pack", program, found, NOW)
    with pytest.raises(ReportError, match="cannot be written"):
        write_calendar(tmp_path / "nowhere" / "x.ics", program, found, NOW)
