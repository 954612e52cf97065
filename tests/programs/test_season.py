"""One invented season, from registration to report: lists, register and stock balance throughout.

Every step is taken as the officer takes it: files are loaded, and those that come out are
filled in and loaded back. What is checked are laws of counting, which hold by definition:
each registered household waits, holds a place or holds a bin, and never two of these; what
came into the store less what left it is in the store; a report counts what the register holds.
"""

from __future__ import annotations

import datetime as dt

import openpyxl
import polars as pl
import pytest
from openpyxl.utils import get_column_letter

from planner import reporting, run
from planner.checks import check
from planner.field.booking import PlacesRequest, book_places
from planner.field.calling import list_calls
from planner.field.calling_request import CallRequest
from planner.field.case_list import list_cases
from planner.loading import load_files
from planner.paths import SAMPLE_PROGRAMS
from planner.sampling.drawing import draw_round
from planner.sampling.request import Round
from planner.store.opening import open_store
from planner.tables import TABLES
from planner.workbooks import records_workbook
from tests.outside import OFFICE, office
from tests.queries.given import frame

pytestmark = pytest.mark.thorough

D = dt.date
HOMES = [f"H{n:02d}" for n in range(1, 61)]
AREA_OF = {home: "AB"[n % 2] for n, home in enumerate(HOMES)}
MODEL = "caja_dos"
FIRST_OFFERS, SECOND_OFFERS, LAST_DAY = D(2025, 2, 17), D(2025, 2, 25), D(2025, 12, 31)
DAYS = {"E1": D(2025, 3, 8), "E2": D(2025, 3, 22)}
RECEIVED = {"bins": 50.0, "worms": 30.0, "bedding": 80.0}
BEDDING_KG = 1.5
STATES = ["came"] * 9 + ["absent"]


def write(folder, name, tables):
    """Write the sheets that an officer would, and load them."""
    sheets = {
        table: frame(table, rows).select(TABLES[table].column_names())
        for table, rows in tables.items()
    }
    records_workbook(sheets).save(folder / name)
    return load(folder, folder / name)


def load(folder, path):
    """Load a file, and leave nothing of it refused."""
    found = load_files(folder, [path], day=LAST_DAY)
    assert [file.problems.height for file in found.files] == [0], found.files[0].problems
    return found


def records(folder, table):
    with open_store(folder, read_only=True) as store:
        return store.records(table)


def fill(path, sheet, row_of, heading_row):
    """Write into each row of a sheet what a function of it gives, as people fill a list in."""
    book = openpyxl.load_workbook(path)
    page = book[sheet]
    at = {cell.value: cell.column for cell in page[heading_row]}
    for number in range(heading_row + 1, page.max_row + 1):
        row = {name: page.cell(number, place).value for name, place in at.items()}
        for name, value in row_of(row).items():
            page.cell(number, at[name]).value = value
    return book


def assert_everyone_is_somewhere_once(folder, on_date):
    """Check that each registered household waits, holds a place or holds a bin, and just one."""
    with open_store(folder, read_only=True) as store:
        waiting = store.query("waiting_list", seed_words="any", on_date=on_date)["household_id"]
        placed = store.records("bookings").filter(pl.col("state").is_in(["offered", "accepted"]))
        having = store.records("handovers")["household_id"]
    everyone = [*waiting, *placed["household_id"], *having]
    assert sorted(everyone) == HOMES


def in_store(folder, on_date):
    with open_store(folder, read_only=True) as store:
        rows = store.query("stock_reconciled", as_of=on_date)
    return dict(rows.group_by("item_kind").agg(pl.col("in_stock_quantity").sum()).iter_rows())


def assert_stock_balances(folder, on_date):
    """Check that the store holds what came less what was handed over and topped up."""
    given, cases = records(folder, "handovers"), records(folder, "cases")
    left = {
        "bins": given.height,
        "worms": given["worms_kg"].sum() + (cases["worms_kg"].sum() or 0.0),
        "bedding": given["bedding_kg"].sum(),
    }
    expected = {kind: RECEIVED[kind] - left[kind] for kind in RECEIVED}
    assert in_store(folder, on_date) == pytest.approx(expected, abs=1e-6)


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    """Register sixty households, buy for fifty, and ask all of them how they lived before."""
    folder = tmp_path_factory.mktemp("season")
    text = (SAMPLE_PROGRAMS / "valdorra" / "program.toml").read_text(encoding="utf-8")
    text = text.replace("[map]\n", "").replace('boundaries = "areas.geojson"\n', "")
    text = text.replace("draws_count = 1000", "draws_count = 200")
    (folder / "program.toml").write_text(text, encoding="utf-8")
    contact = {"street_address": "1 Invented Way", "postcode": "0101", "phone": "555 0100"}
    bought = {"bins": MODEL, "worms": "worms", "bedding": "bedding"}
    lines = [
        {
            "order_line_id": kind,
            "item_kind": kind,
            "item_id": item,
            "order_date": D(2025, 2, 1),
            "delivery_date": D(2025, 3, 1),
            "ordered_quantity": RECEIVED[kind],
        }
        for kind, item in bought.items()
    ]
    came = [
        {
            "delivery_id": f"D-{kind}",
            "order_line_id": kind,
            "delivered_date": D(2025, 3, 1),
            "received_quantity": RECEIVED[kind],
        }
        for kind in bought
    ]
    counted = {"houses_count": 800, "residents_count": 2000}
    write(folder, "register.xlsx", {
        "areas": [{"area_id": a, "area_name": f"Village {a}", **counted} for a in "AB"],
        "households": [
            {
                "household_id": h,
                "area_id": AREA_OF[h],
                "registered_date": D(2025, 1, 10 + n % 15),
                "may_contact": n % 10 != 9,
            }
            for n, h in enumerate(HOMES)
        ],
        "contacts": [{"household_id": h, "full_name": f"Person {h}", **contact} for h in HOMES],
        "registrations": [
            {"household_id": h, "registered_date": D(2025, 1, 10 + n % 15)}
            for n, h in enumerate(HOMES)
        ],
        "events": [
            {"event_id": code, "event_date": day, "places_count": 20, "venue": "Hall"}
            for code, day in DAYS.items()
        ],
    })  # fmt: skip
    write(folder, "buying.xlsx", {
        "suppliers": [{"supplier_id": "S"}], "orders": lines, "deliveries": came,
        "costs": [
            {"cost_id": c, "cost_date": D(2025, 3, 1), "category": c, "amount": 900.0}
            for c in ("bins", "worms", "bedding", "staff")
        ],
    })  # fmt: skip
    shares = {f"prior_{one}_share": 0.0 for one in ("kerbside_organics", "animals", "other")}
    write(folder, "baseline.xlsx", {
        "waves": [
            {
                "wave_id": "B",
                "wave_kind": "baseline",
                "opens_date": D(2025, 2, 1),
                "closes_date": D(2025, 2, 14),
            }
        ],
        "answers": [
            {
                "wave_id": "B",
                "household_id": h,
                "answer_date": D(2025, 2, 3 + n % 10),
                "prior_residual_bin_share": 0.7 + 0.2 * (n % 2),
                "prior_garden_compost_share": 0.3 - 0.2 * (n % 2),
                **shares,
            }
            for n, h in enumerate(HOMES)
        ],
    })  # fmt: skip
    return folder


def answered(row):
    """Say yes, and one in ten no."""
    return {"state": "declined" if row["household_id"].endswith("7") else "accepted"}


def give_places(town):
    """Give places, load them and the answers; twice, so that what was let go is given again."""
    assert_everyone_is_somewhere_once(town, FIRST_OFFERS)
    for on_date in (FIRST_OFFERS, SECOND_OFFERS):
        found = book_places(town, PlacesRequest(on_date, LAST_DAY))
        assert found.given["household_id"].is_unique().all()
        assert found.given.height == min(found.days["room_count"].sum(), found.line.ordered.height)
        offers = town / "hand_over_days" / str(on_date) / "bookings_to_load.xlsx"
        letters = openpyxl.load_workbook(town / "private" / f"invitations_{on_date}.xlsx").active
        assert letters.max_row - 2 == found.given.height
        load(town, offers)
        assert_everyone_is_somewhere_once(town, on_date)
        fill(offers, "bookings", answered, 1).save(offers)
        load(town, offers)
        assert_everyone_is_somewhere_once(town, on_date)


def hold_day(town, event_id):
    """Print the run sheet, fill it in, load it back; give the number of those who came."""
    held = records(town, "bookings").filter(event_id=event_id, state="accepted")
    path = run.day_papers(town, event_id).files[0][0]
    page = openpyxl.load_workbook(path)["bookings"]
    assert page.max_row - 5 == held.height
    at = {cell.value: get_column_letter(cell.column) for cell in page[5]}
    states = [STATES[n % len(STATES)] for n in range(held.height)]
    typed = {"E3": str(BEDDING_KG)}
    for row, state in enumerate(states, start=6):
        typed[f"{at['state']}{row}"] = state
        if state == "came":
            typed |= {
                f"{at['model_id']}{row}": MODEL,
                f"{at['serial']}{row}": f"00{event_id[1:]}{row}",
            }
    filled = (filled_by_office if OFFICE and event_id == "E1" else filled_by_library)(path, typed)
    if event_id == "E2":
        walk_in(town, filled)
    load(town, filled)
    with_state = records(town, "bookings").filter(event_id=event_id)["state"]
    came = int((with_state == "came").sum())
    assert came == states.count("came")
    taken = records(town, "handovers").filter(event_id=event_id)
    came += event_id == "E2"
    assert taken.height == came
    # typed in, 0012 would be taken for 12 but for the format of text
    assert page["F6"].number_format == "@"
    assert taken["serial"].str.starts_with("00").all()
    assert_everyone_is_somewhere_once(town, DAYS[event_id])
    assert_stock_balances(town, DAYS[event_id])
    return came


def walk_in(town, path):
    """Give a bin to somebody who still waits, as a row below those of the sheet handovers."""
    with open_store(town, read_only=True) as store:
        waiting = store.query("waiting_list", seed_words="any", on_date=DAYS["E2"])["household_id"]
    book = openpyxl.load_workbook(path)
    book["handovers"].append([
        "WALK-IN", waiting[0], "E2", MODEL, DAYS["E2"], 0.3, BEDDING_KG, None, "00999",
    ])  # fmt: skip
    book.save(path)


def filled_by_office(path, typed):
    """Write into the sheet, and have a spreadsheet program work out and save the other."""
    book = openpyxl.load_workbook(path)
    for place, text in typed.items():
        book["bookings"][place].value = float(text) if place == "E3" else text
    book.save(path)
    folder = path.parent / "saved"
    folder.mkdir()
    return office(path, folder, "xlsx")


def filled_by_library(path, typed):
    """Write into the sheet, and into the other what its formulas come to."""
    book = openpyxl.load_workbook(path)
    page, takings = book["bookings"], book["handovers"]
    at = {cell.value: cell.column for cell in page[5]}
    for place, text in typed.items():
        page[place].value = float(text) if place == "E3" else text
    for number in range(page.max_row - 5):
        row = {name: page.cell(6 + number, place).value for name, place in at.items()}
        taken = {
            "handover_id": f"{row['booking_id']}-B",
            "household_id": row["household_id"],
            "event_id": row["event_id"],
            "model_id": row["model_id"],
            "handover_date": DAYS[row["event_id"]],
            "worms_kg": page["E2"].value,
            "bedding_kg": page["E3"].value,
            "serial": row["serial"],
        }
        for place, cell in enumerate(takings[1], start=1):
            value = taken.get(cell.value) if row["state"] == "came" else None
            takings.cell(2 + number, place).value = value
    book.save(path)
    return path


def call_round(town, on_date):
    """List who is due a call, write what came of each, load it; nobody reached is due again."""
    found = list_calls(town, CallRequest(on_date))
    having = set(records(town, "handovers")["household_id"])
    agreed = set(records(town, "households").filter("may_contact")["household_id"])
    assert set(found.called["household_id"]) <= having & agreed
    assert found.called["household_id"].is_unique().all()
    assert found.called.height == min(40, len(having & agreed))
    outcomes = {"call_outcome": "reached"}
    fill(found.file, "calls", lambda row: outcomes if row["household_id"] else {}, 2).save(
        found.file
    )
    load(town, found.file)
    assert records(town, "calls").height == found.called.height
    again = list_calls(town, CallRequest(on_date + dt.timedelta(days=1)), dry_run=True)
    assert not set(again.called["household_id"]) & set(found.called["household_id"])


def tell_of_a_problem(town):
    """Open a case that promises worms, see it listed, top the bin up, and close it."""
    home = records(town, "handovers")["household_id"][0]
    told = {
        "case_id": "C1",
        "household_id": home,
        "opened_date": D(2025, 5, 2),
        "problem": "worms_died",
        "case_action": "worms_topped_up",
    }
    write(town, "case.xlsx", {"cases": [told]})
    with open_store(town, read_only=True) as store:
        promised = store.query("promised_by_cases", as_of=D(2025, 5, 3)).row(0, named=True)
    assert (promised["bins_count"], promised["top_ups_count"]) == (0, 1)
    before = in_store(town, D(2025, 5, 20))["worms"]
    listed = list_cases(town, D(2025, 5, 3))
    assert listed.listed["household_id"].to_list() == [home]
    done = {"action_date": D(2025, 5, 10), "worms_kg": 0.25, "closed_date": D(2025, 5, 12)}
    fill(listed.file, "cases", lambda row: done if row["case_id"] else {}, 2).save(listed.file)
    load(town, listed.file)
    assert in_store(town, D(2025, 5, 20))["worms"] == pytest.approx(before - 0.25)
    assert_stock_balances(town, D(2025, 5, 20))
    assert list_cases(town, D(2025, 5, 13), dry_run=True).listed.is_empty()


def survey(town):
    """Draw a round of everyone with a bin, load it, and load their answers."""
    opens, closes = D(2025, 10, 1), D(2025, 10, 14)
    having = records(town, "handovers").join(
        records(town, "households").filter("may_contact"), on="household_id"
    )
    asked = Round("F", "followup", opens, closes, size=having.height, stratify="area")
    drawn = draw_round(town, asked)
    load(town, drawn.samples_file)
    samples = records(town, "samples").filter(wave_id="F")
    assert set(samples["household_id"]) <= set(having["household_id"])
    # probabilities add up to those who were drawn: a law of any sample
    chances = samples["inclusion_probability"]
    assert (1.0 / chances).sum() == pytest.approx(having.height, rel=1e-6)
    answers = [
        {
            "wave_id": "F",
            "household_id": h,
            "answer_date": D(2025, 10, 2 + n % 10),
            "is_in_use": n % 5 != 0,
            "stopped_date": D(2025, 8, 1) if n % 5 == 0 else None,
            "fed_kg_last_week": None if n % 5 == 0 else 1.0 + 0.1 * (n % 7),
            "problem": "none",
        }
        for n, h in enumerate(samples["household_id"].sort())
    ]
    write(town, "answers.xlsx", {"answers": answers})
    assert records(town, "answers").filter(wave_id="F").height == samples.height


def test_a_season_balances_from_registration_to_report(town):
    give_places(town)
    came = sum(hold_day(town, event_id) for event_id in DAYS)
    call_round(town, D(2025, 4, 10))
    tell_of_a_problem(town)
    survey(town)
    findings, _ = check(town, as_of=LAST_DAY)
    assert findings.filter(severity="wrong").is_empty(), findings.filter(severity="wrong")
    register = reporting.report(town, "2025", as_of=LAST_DAY).register
    given = records(town, "handovers")
    assert register["bins_given"].value == given.height == came
    assert register["program_cost"].value == records(town, "costs")["amount"].sum()
    in_use = register["bins_in_use"]
    assert 0 <= in_use.value <= given.height
    fed, kept = register["fed_t"].value, register["kept_out_of_landfill_t"].value
    # the town landfills 0.85 of its residual waste, and nothing can be kept out that was not fed
    assert 0.0 < kept <= 0.85 * fed
