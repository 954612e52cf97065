"""After an erasure no file of the folder holds the erased details; the records stay."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import zipfile
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from planner.errors import StoreError
from planner.paths import (
    BACKUP_FOLDER,
    CONTACTS_FILE,
    PRIVATE_FOLDER,
    PROGRAM_FILE,
    REFUSED_FOLDER,
    TEMPLATES,
)
from planner.store.drafts import rewrite
from planner.store.erasing import ask_erasure
from planner.store.keeping import back_up, erase_households, restore_backup, retain_contacts
from planner.store.keys import read_key
from planner.store.opening import open_store
from planner.store.queries import read_query
from planner.store.scanning import Remnant
from planner.store.writing import writing
from tests.queries.given import frame

pytestmark = pytest.mark.thorough

NOON = dt.datetime(2026, 7, 1, 12)
LATER = dt.datetime(2026, 7, 1, 13)
ERASED = {
    "full_name": "Wilhelmina Quillfeather",
    "street_address": "17 Sundial Row",
    "email": "quill@feather.example",
    "phone": "555 010 017",
}
FORMER = {**ERASED, "full_name": "Wilhelmina Inkwell", "street_address": "3 Gnomon Lane"}
KEPT = {
    "full_name": "Barnaby Thimblewick",
    "street_address": "8 Bobbin Court",
    "email": "barnaby@wick.example",
    "phone": "555 010 099",
}
FORBIDDEN = sorted({*ERASED.values(), *FORMER.values()})


def contact(household, details):
    return {"household_id": household, "postcode": "0123", **details}


def take_in(folder, file, **tables):
    with (
        open_store(folder, encrypt_contacts=folder.name != "open") as store,
        writing(store, written_at=NOON) as writer,
    ):
        load_id = writer.begin_load(file, hashlib.sha256(file.encode()).hexdigest())
        for table, rows in tables.items():
            made = pl.DataFrame(rows) if table == "contacts" else frame(table, rows)
            writer.write(load_id, table, made)


def refuse(folder, value):
    problem = {
        "table_name": "households",
        "record_key": "H1",
        "file": "x.csv",
        "sheet": "",
        "row_number": 2,
        "column_name": "channel",
        "value": value,
        "reason": "not a code",
        "expected": "a code",
    }
    with open_store(folder) as store, writing(store) as writer:
        writer.note(
            writer.begin_load("x.csv", "x"), read_query("record_refusals"), pl.DataFrame([problem])
        )


def write_copies(folder):
    """Write copies of rows as refused files and lists of likely doubles hold them."""
    for name in (REFUSED_FOLDER, PRIVATE_FOLDER):
        (folder / name).mkdir()
    rows = [contact("H1", ERASED), contact("H2", KEPT), contact("H9", {**KEPT, "phone": "1"})]
    pl.DataFrame(rows).write_csv(folder / REFUSED_FOLDER / "L0001.csv")
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Personal details of households"])
    sheet.append(list(rows[0]))
    for row in rows:
        sheet.append(list(row.values()))
    sheet["B3"].comment = openpyxl.comments.Comment(f"found {ERASED['full_name']}", "planner")
    book.save(folder / REFUSED_FOLDER / "L0001.xlsx")
    book.save(folder / PRIVATE_FOLDER / "doubles.xlsx")


def leave_open(patch):
    """Leave contacts in the open: only there can freed pages be searched."""
    patch.setattr("planner.store.opening.encrypt_contacts_file", lambda _: False)


@pytest.fixture(params=["encrypted", pytest.param("open", marks=pytest.mark.thorough)])
def folder(request, prepared, tmp_path, monkeypatch):
    """Copy the prepared folder of one kind."""
    if request.param == "open":
        leave_open(monkeypatch)
    return Path(shutil.copytree(prepared / request.param, tmp_path / request.param))


@pytest.fixture
def encrypted(prepared, tmp_path):
    """Copy the prepared folder as the planner makes it."""
    return Path(shutil.copytree(prepared / "encrypted", tmp_path / "encrypted"))


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Prepare one folder with encrypted and one with open contacts."""
    folder = tmp_path_factory.mktemp("prepared")
    prepare(folder / "encrypted")
    with pytest.MonkeyPatch.context() as patch:
        leave_open(patch)
        prepare(folder / "open")
    return folder


def prepare(made):
    """Make two households: one with former details, a backup, copies and refused rows."""
    made.mkdir()
    households = [{"household_id": "H1"}, {"household_id": "H2"}]
    contacts = [contact("H1", FORMER), contact("H2", KEPT)]
    take_in(made, "a.csv", areas=[{"area_id": "A"}], households=households, contacts=contacts)
    (made / "program.toml").write_text("# a program\n")
    back_up(made, None, NOON)
    take_in(made, "b.csv", contacts=[contact("H1", ERASED)])
    given = {"handover_id": "B1", "serial": f"for {ERASED['full_name'].upper()}"}
    take_in(made, "c.csv", waves=[{"wave_id": "F"}], answers=[{"household_id": "H1"}])
    take_in(made, "d.csv", handovers=[given])
    take_in(made, "e.csv", handovers=[{**given, "copayment": 5.0}])
    write_copies(made)
    # the copies of this folder have their backups beside them
    (made / "backups.json").unlink()


def everything(folder, tmp_path):
    """Bytes of every file, of every part of every archive, and of the contacts in the open."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_dir():
            continue
        found[str(path)] = path.read_bytes()
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as archive:
                parts = {name: archive.read(name) for name in archive.namelist()}
            found |= {f"{path}/{name}": part for name, part in parts.items()}
    for name, content in list(found.items()):
        if name.endswith(CONTACTS_FILE) and b"DUCK" in content[:16] and content[20] & 1:
            found[f"{name} in the open"] = in_the_open(content, folder, tmp_path)
    return found


def in_the_open(content, folder, tmp_path):
    """Decrypt a contacts file, for its bytes to be searched."""
    path = tmp_path / "decrypted.duckdb"
    path.write_bytes(content)
    rewrite(path, read_key(folder), None)
    return path.read_bytes()


def holding(folder, tmp_path, texts):
    lower = {name: content.lower() for name, content in everything(folder, tmp_path).items()}
    return {
        (name, text)
        for name, content in lower.items()
        for text in texts
        if text.lower().encode() in content
    }


def test_no_byte_of_the_folder_holds_what_was_erased(folder, tmp_path):
    refuse(folder, f"ask {ERASED['full_name']}")
    held = {text for _, text in holding(folder, tmp_path, FORBIDDEN)}
    assert held == set(FORBIDDEN), "the search must find what is there to be erased"
    erased = erase_households(folder, ["H1"], LATER)
    assert holding(folder, tmp_path, FORBIDDEN) == set()
    assert (erased.contacts_count, erased.history_count) == (1, 1)
    assert erased.remains == ()


def test_the_other_household_keeps_its_details_everywhere(folder, tmp_path):
    before = {name for name, _ in holding(folder, tmp_path, [KEPT["full_name"]])}
    erase_households(folder, ["H1"], LATER)
    assert {name for name, _ in holding(folder, tmp_path, [KEPT["full_name"]])} >= before
    with open_store(folder, read_only=True) as store:
        assert store.records("contacts")["full_name"].to_list() == [KEPT["full_name"]]
    sheet = openpyxl.load_workbook(folder / REFUSED_FOLDER / "L0001.xlsx").active
    assert [cell.value for cell in sheet["A"]][1:] == ["household_id", None, "H2", "H9"]


def test_the_record_without_a_name_stays(encrypted):
    erase_households(encrypted, ["H1"], LATER)
    with open_store(encrypted, read_only=True) as store:
        assert store.records("households")["household_id"].to_list() == ["H1", "H2"]
        assert store.records("handovers").select("household_id", "serial").rows() == [("H1", None)]


def test_the_receipt_says_who_when_and_what_without_details(encrypted):
    erased = erase_households(encrypted, ["H1"], LATER)
    receipt = json.loads(erased.receipt.read_text())
    assert receipt["erased"][0]["household_id"] == "H1"
    assert receipt["erased"][0]["asked_at"] == "2026-07-01 13:00 UTC"
    assert receipt["contacts"] == 1
    assert not any(text in erased.receipt.read_text() for text in FORBIDDEN)


def test_a_dry_run_tells_the_same_and_erases_nothing(folder, tmp_path):
    before = holding(folder, tmp_path, FORBIDDEN)
    told = erase_households(folder, ["H1"], LATER, keep=False)
    assert holding(folder, tmp_path, FORBIDDEN) == before
    done = erase_households(folder, ["H1"], LATER)
    for name in ("contacts_count", "history_count", "copies", "backups"):
        assert getattr(told, name) == getattr(done, name)
    assert len(told.copies) == 3


def test_a_file_loaded_again_does_not_bring_the_details_back(folder, tmp_path):
    erase_households(folder, ["H1"], LATER)
    take_in(folder, "d.csv", contacts=[contact("H1", ERASED)])
    assert holding(folder, tmp_path, FORBIDDEN) == set()


def test_details_asked_to_be_erased_are_hidden_at_once_and_gone_after_the_next_opening(
    folder, tmp_path
):
    with open_store(folder) as store:
        ask_erasure(store.program, pl.DataFrame({"household_id": ["H1"]}), "asked", LATER)
    with open_store(folder, read_only=True) as store:
        assert store.records("contacts")["household_id"].to_list() == ["H2"]
    with open_store(folder) as store:
        assert store.erased.households == ("H1",)
    assert holding(folder, tmp_path, FORBIDDEN) == set()


def test_an_unknown_household_is_named_and_nothing_erased(encrypted):
    with pytest.raises(StoreError, match="H7: no such household"):
        erase_households(encrypted, ["H1", "H7"], LATER)
    with open_store(encrypted, read_only=True) as store:
        assert store.records("contacts").height == 2


def test_the_officers_own_file_is_named_and_left_alone(encrypted):
    own = encrypted / "intake.csv"
    own.write_text(f"household_id,full_name\nH1,{ERASED['full_name']}\n")
    erased = erase_households(encrypted, ["H1"], LATER)
    assert erased.remains == (Remnant(own, ""),)
    assert ERASED["full_name"] in own.read_text()


def test_a_backup_that_is_gone_is_named_to_be_deleted(encrypted, tmp_path):
    path = back_up(encrypted, tmp_path / "drive", LATER)
    path.unlink()
    assert erase_households(encrypted, ["H1"], LATER).unreachable == (path,)


def test_a_backup_that_was_cleaned_still_restores(folder, tmp_path):
    path = back_up(folder, tmp_path / "drive", LATER)
    erased = erase_households(folder, ["H1"], LATER)
    assert path in erased.backups
    restore_backup(folder, path, LATER)
    assert holding(folder, tmp_path, FORBIDDEN) == set()


def test_a_restored_copy_of_an_older_backup_is_erased_again(folder, tmp_path):
    path = back_up(folder, tmp_path / "drive", LATER)
    copy = tmp_path / "copy of the backup.zip"
    copy.write_bytes(path.read_bytes())
    erase_households(folder, ["H1"], LATER)
    assert restore_backup(folder, copy, LATER).erased == ("H1",)
    assert holding(folder, tmp_path, FORBIDDEN) == set()
    assert not list((folder / BACKUP_FOLDER).glob("*.new"))


def test_retention_counts_from_the_newest_record(encrypted):
    # H1 answered on 10 March 2025, H2 registered on 1 January 2025 and did no more
    shipped = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")
    set_so = shipped.replace("# contacts_retention_months = 36", "contacts_retention_months = 18")
    (encrypted / PROGRAM_FILE).write_text(set_so, encoding="utf-8")
    assert retain_contacts(encrypted, dt.datetime(2026, 7, 1), keep=False) is None
    assert retain_contacts(encrypted, dt.datetime(2026, 7, 2)).households == ("H2",)
    assert retain_contacts(encrypted, dt.datetime(2026, 7, 2)) is None
    with open_store(encrypted, read_only=True) as store:
        assert store.records("contacts")["household_id"].to_list() == ["H1"]


def test_a_short_name_is_erased_as_a_whole_cell_alone(encrypted):
    short = {
        **ERASED,
        "full_name": "Ann Li"[-2:],
        "street_address": "x",
        "email": "e",
        "phone": "1",
    }
    take_in(encrypted, "e.csv", contacts=[contact("H1", short)])
    copy = encrypted / REFUSED_FOLDER / "L0009.csv"
    copy.write_text("name,value\nLi,1\nLionel,12\n")
    erase_households(encrypted, ["H1"], LATER)
    assert copy.read_text(encoding="utf-8-sig") == "name,value\nLionel,12\n"


def venue_and_others(folder):
    """Write the details where officers type: a venue, a file's name, other spellings."""
    take_in(
        folder,
        f"{ERASED['full_name']}.csv",
        events=[{"event_id": "E1", "venue": "garden of Quillfeather, WILHELMINA"}],
    )
    copy = folder / REFUSED_FOLDER / "L0007.csv"
    copy.write_text(
        "first,last,remark\nWilhelmína,QUILLFEATHER,x\nBarnaby,Thimblewick,(555) 010-017\nA,B,c\n"
    )
    return copy


SPELLINGS = ("quillfeather", "wilhelm", "010-017")


def test_other_spellings_go_from_every_column_and_copy(folder, tmp_path):
    copy = venue_and_others(folder)
    erased = erase_households(folder, ["H1"], LATER)
    assert holding(folder, tmp_path, [*FORBIDDEN, *SPELLINGS]) == set()
    assert copy.read_text(encoding="utf-8-sig") == "first,last,remark\nA,B,c\n"
    with open_store(folder, read_only=True) as store:
        assert store.records("events")["venue"].to_list() == [None]
        assert "(erased)" in store.query("loads")["file"].to_list()
    assert erased.remains == ()
    assert erased.searched_count > 5


def test_a_part_of_a_name_goes_from_the_household_s_own_rows_alone(encrypted):
    own = {"handover_id": "B7", "household_id": "H1", "serial": "for Quillfeather"}
    other = {"handover_id": "B8", "household_id": "H2", "serial": "by Quillfeather Ltd"}
    take_in(encrypted, "f.csv", handovers=[own, other])
    erase_households(encrypted, ["H1"], LATER)
    with open_store(encrypted, read_only=True) as store:
        serials = dict(store.records("handovers").select("handover_id", "serial").rows())
    assert serials["B7"] is None
    assert serials["B8"] == "by Quillfeather Ltd"


def test_what_a_restore_replaced_goes_whole(encrypted):
    kept = encrypted / "replaced-2026-01-01-120000"
    kept.mkdir()
    (kept / "program.duckdb").write_text(f"torn {ERASED['full_name']}")
    told = erase_households(encrypted, ["H1"], LATER, keep=False)
    assert told.removed == (kept,)
    assert kept.exists()
    assert erase_households(encrypted, ["H1"], LATER).removed == (kept,)
    assert not kept.exists()


def test_what_remains_is_named_with_its_place(encrypted):
    """An issue is frozen and an own file the officer's: neither is changed, both are named."""
    issue = encrypted / "issued" / "2025-26-1"
    issue.mkdir(parents=True)
    with zipfile.ZipFile(issue / "evidence.zip", "w") as archive:
        archive.writestr("rows.csv", f"value\nask {ERASED['full_name'].upper()}\n")
    own = encrypted / "letter.txt"
    own.write_text("Dear Wilhelmina\n  Quillfeather,", encoding="utf-16")
    remains = erase_households(encrypted, ["H1"], LATER).remains
    assert {(one.path, one.where) for one in remains} == {
        (issue / "evidence.zip", "rows.csv"),
        (own, ""),
    }


def test_a_copied_folder_leaves_the_backups_of_the_other_alone(encrypted, tmp_path):
    path = back_up(encrypted, tmp_path / "drive", LATER)
    before = path.read_bytes()
    copied = Path(shutil.copytree(encrypted, tmp_path / "copied"))
    erased = erase_households(copied, ["H1"], LATER)
    assert path.read_bytes() == before
    assert path in erased.of_original
    assert path not in erased.backups
    assert all(one.is_relative_to(copied) for one in erased.backups)


def test_a_moved_folder_reaches_its_backups_at_their_old_place(encrypted, tmp_path):
    path = back_up(encrypted, tmp_path / "drive", LATER)
    inside = back_up(encrypted, None, LATER)
    moved = encrypted.rename(tmp_path / "moved")
    erased = erase_households(moved, ["H1"], LATER)
    assert path in erased.backups
    assert moved / BACKUP_FOLDER / inside.name in erased.backups
    assert erased.unreachable == ()
    assert holding(moved, tmp_path, FORBIDDEN) == set()
