"""A backup is whole and opens; a restore puts all of it in place or nothing."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import zipfile
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, KEY_FILE, PROGRAM_FILE, STORE_FILE
from planner.store.backups import checksum, seal_on, unpacked
from planner.store.connection import connect
from planner.store.keeping import back_up, restore_backup
from planner.store.opening import open_store
from planner.store.sealing import Seal
from planner.store.settling import READY_FILE, RESTORE_FOLDER, finish_restore
from planner.store.writing import writing
from tests.queries.given import frame

pytestmark = pytest.mark.thorough

NOON = dt.datetime(2026, 7, 1, 12)
CONTACT = {
    "household_id": "H1",
    "full_name": "Wilhelmina Quillfeather",
    "street_address": "1 Sundial Row",
    "postcode": "0123",
}


def take_in(folder, cost_id):
    with open_store(folder) as store, writing(store, written_at=NOON) as writer:
        load_id = writer.begin_load(f"{cost_id}.csv", cost_id)
        writer.write(load_id, "costs", frame("costs", [{"cost_id": cost_id}]))
        rows = pl.DataFrame({**CONTACT, "phone": cost_id})
        writer.write(load_id, "contacts", rows)


def state(folder):
    with open_store(folder, read_only=True) as store:
        records = store.records("costs")["cost_id"].to_list()
        phones = store.records("contacts")["phone"].to_list()
    return records, phones, (folder / PROGRAM_FILE).read_text()


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "Compost à l'école"
    made.mkdir()
    (made / PROGRAM_FILE).write_text("# first\n")
    take_in(made, "C1")
    return made


@pytest.fixture
def backed_up(folder, tmp_path):
    """Make a backup of one load, and then another load."""
    path = back_up(folder, tmp_path / "drive", NOON)
    take_in(folder, "C2")
    (folder / PROGRAM_FILE).write_text("# second\n")
    return path


BEFORE = (["C1"], ["C1"], "# first\n")
AFTER = (["C1", "C2"], ["C2"], "# second\n")


def test_a_backup_holds_all_but_the_key(folder):
    path = back_up(folder, None, NOON)
    assert path.name == "planner-backup-2026-07-01-120000.zip"
    with zipfile.ZipFile(path) as archive:
        assert set(archive.namelist()) == {
            PROGRAM_FILE,
            STORE_FILE,
            CONTACTS_FILE,
            "manifest.json",
            "manifest.seal",
        }
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert (folder / KEY_FILE).read_bytes().strip() not in everything
    assert CONTACT["full_name"].encode() not in everything


def test_a_restore_brings_everything_back_and_keeps_what_was_there(folder, backed_up):
    restored = restore_backup(folder, backed_up, NOON)
    assert state(folder) == BEFORE
    assert restored.replaced is None
    assert not list(folder.glob("replaced*"))
    later = dt.datetime(2026, 7, 1, 13)
    restore_backup(folder, restored.backup_before, later)
    assert state(folder) == AFTER


def give_out(folder, name, text="as given out"):
    place = folder / "issued" / name
    (place / "factors").mkdir(parents=True)
    (place / "issue.json").write_text(text)
    (place / "factors" / "a.csv").write_text("a")
    for path in place.rglob("*.*"):
        path.chmod(0o444)
    return place


def test_a_backup_carries_every_issue_and_a_restore_takes_none_away(folder, tmp_path):
    first, second = give_out(folder, "0001_2025"), give_out(folder, "0002_2025")
    path = back_up(folder, tmp_path / "drive", NOON)
    third = give_out(folder, "0003_2026")
    (first / "issue.json").chmod(0o644)
    (first / "issue.json").write_text("tampered with")
    shutil.rmtree(second)
    restored = restore_backup(folder, path, NOON)
    assert (first / "issue.json").read_text() == "as given out"
    assert (second / "factors" / "a.csv").read_text() == "a"
    assert (third / "issue.json").read_text() == "as given out"
    modes = {file.stat().st_mode & 0o777 for file in second.rglob("*.*") if file.is_file()}
    assert modes == {0o444}
    assert not list(folder.glob("replaced*"))
    # what was there before is in the backup that was made of it
    with zipfile.ZipFile(restored.backup_before) as archive:
        assert archive.read("issued/0001_2025/issue.json") == b"tampered with"


def test_a_restore_of_issues_can_be_cut_off_anywhere(folder, tmp_path):
    first = give_out(folder, "0001_2025")
    path = back_up(folder, tmp_path / "drive", NOON)
    (first / "issue.json").chmod(0o644)
    (first / "issue.json").write_text("tampered with")
    stage = folder / RESTORE_FOLDER
    with unpacked(path, folder, stage):
        pass
    names = [PROGRAM_FILE, STORE_FILE, CONTACTS_FILE]
    ready = {"names": names, "issues": ["issued/0001_2025"], "replaced": "replaced-then"}
    (stage / READY_FILE).write_text(json.dumps(ready))
    # cut off after the altered issue was put aside and before the right one came
    (folder / "replaced-then" / "issued").mkdir(parents=True)
    first.replace(folder / "replaced-then" / "issued" / "0001_2025")
    assert finish_restore(folder)
    assert (first / "issue.json").read_text() == "as given out"
    aside = folder / "replaced-then" / "issued" / "0001_2025" / "issue.json"
    assert aside.read_text() == "tampered with"


def test_a_backup_that_would_write_elsewhere_is_refused(folder, tmp_path):
    path = back_up(folder, tmp_path / "drive", NOON)
    with zipfile.ZipFile(path) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(held["manifest.json"])
    manifest["sha256"]["issued/../../x/y"] = checksum(folder / PROGRAM_FILE)
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in held.items():
            archive.writestr(name, json.dumps(manifest) if name == "manifest.json" else content)
        archive.writestr("issued/../../x/y", held[PROGRAM_FILE])
    with pytest.raises(StoreError, match="damaged"):
        restore_backup(folder, path, NOON, unsealed=True)


def test_a_restore_to_a_new_folder_needs_the_key(folder, backed_up, tmp_path):
    other = tmp_path / "other"
    with pytest.raises(StoreError, match="key file"):
        restore_backup(other, backed_up, NOON)
    assert not list(other.iterdir())
    shutil.copy(folder / KEY_FILE, other / KEY_FILE)
    restore_backup(other, backed_up, NOON)
    assert state(other) == BEFORE


def test_a_store_that_does_not_open_is_replaced_and_its_files_kept(folder, backed_up):
    (folder / STORE_FILE).write_bytes(b"not a database")
    restored = restore_backup(folder, backed_up, NOON)
    assert state(folder) == BEFORE
    assert restored.backup_before is None
    assert (restored.replaced / STORE_FILE).read_bytes() == b"not a database"


def damage_byte(path):
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 0xFF
    path.write_bytes(content)


def cut_off(path):
    path.write_bytes(path.read_bytes()[:-1000])


def change_records(path):
    """Change the records within the archive, with right checksums of the archive's own."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts[STORE_FILE] = parts[STORE_FILE].replace(b"C1", b"C3")
    with zipfile.ZipFile(path, "w") as archive:
        for name, part in parts.items():
            archive.writestr(name, part)


def reach_out(path):
    """Name a file outside the folder, as a hostile archive would."""
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../outside", "x")
        archive.writestr(
            "manifest.json", json.dumps({"sha256": {"../outside": "", STORE_FILE: ""}})
        )


@pytest.mark.parametrize("harm", [damage_byte, cut_off, change_records, reach_out])
def test_a_damaged_backup_changes_nothing(folder, backed_up, harm):
    harm(backed_up)
    with pytest.raises(StoreError, match="Nothing was changed"):
        restore_backup(folder, backed_up, NOON)
    assert state(folder) == AFTER


def test_no_flipped_byte_is_restored_or_crashes(folder, backed_up):
    """Any byte of an archive may go wrong on its way; a refusal says so, or nothing is lost."""
    sound = backed_up.read_bytes()
    _, whole = tried(backed_up, folder)
    assert whole
    for place in np.random.default_rng(7).choice(len(sound), 400, replace=False):
        content = bytearray(sound)
        content[place] ^= 1 << (int(place) % 8)
        backed_up.write_bytes(content)
        refused, found = tried(backed_up, folder)
        assert "Nothing was changed" in refused or found == whole


def tried(backed_up, folder):
    """Unpack a backup: what refused it in words, or the digests of its files."""
    try:
        with unpacked(backed_up, folder) as stage:
            return "", {name: checksum(stage / name) for name in (STORE_FILE, CONTACTS_FILE)}
    except StoreError as error:
        return str(error), {}


def remade(path, change):
    """Change files of a backup and make their checksums again, as anyone can."""
    with zipfile.ZipFile(path) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    change(held)
    manifest = json.loads(held["manifest.json"])
    manifest["sha256"] = {
        name: hashlib.sha256(held[name]).hexdigest() for name in manifest["sha256"] if name in held
    }
    held["manifest.json"] = json.dumps(manifest).encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in held.items():
            archive.writestr(name, content)


def lower_threshold(held):
    held[PROGRAM_FILE] = b"small_cell_threshold = 1"


def drop_contacts(held):
    del held[CONTACTS_FILE]


def unseal(held):
    del held["manifest.seal"]


@pytest.mark.parametrize(
    ("change", "words"),
    [(lower_threshold, "changed after"), (drop_contacts, "changed after"), (unseal, "not sealed")],
)
def test_a_backup_with_checksums_made_anew_is_restored_only_when_told(
    folder, backed_up, change, words
):
    remade(backed_up, change)
    with pytest.raises(StoreError, match=f"{words}.*Nothing was changed.*--unsealed"):
        restore_backup(folder, backed_up, NOON)
    assert state(folder) == AFTER
    restored = restore_backup(folder, backed_up, NOON, unsealed=True)
    assert restored.seal is not Seal.HOLDS


def test_a_backup_sealed_with_another_key_is_told_from_one_of_ours(folder, backed_up, tmp_path):
    assert seal_on(backed_up, folder) is Seal.HOLDS
    (folder / KEY_FILE).write_text("f" * 64)
    assert seal_on(backed_up, folder) is Seal.BROKEN
    (folder / KEY_FILE).unlink()
    assert seal_on(backed_up, folder) is Seal.UNKNOWN


def test_an_old_backup_says_what_it_lacks(folder, backed_up):
    told = restore_backup(folder, backed_up, NOON, keep=False)
    assert len(told.missing) == 1
    assert "C2.csv" in told.missing[0]
    assert told.made_at.replace(tzinfo=None) == NOON


def flipped(content, places):
    changed = bytearray(content)
    for place in places:
        changed[place] ^= 1 << (int(place) % 8)
    return bytes(changed)


def test_flipped_bytes_in_the_records_are_not_backed_up_as_whole(folder, tmp_path):
    """Twenty at once, as a failing disk leaves them: seldom in a block that nothing uses."""
    path = folder / STORE_FILE
    sound, rng = path.read_bytes(), np.random.default_rng(11)
    told = []
    for case in range(12):
        path.write_bytes(flipped(sound, rng.integers(0, len(sound), 20)))
        told.append(told_by_backup(folder, tmp_path / f"drive{case}"))
    path.write_bytes(sound)
    assert [words for words in told if "damaged" in words or "not a store" in words][10:]
    assert {words for words in told if words.startswith("[")} <= {"['C1']"}
    assert not any(
        list((tmp_path / f"drive{n}").glob("*.zip")) for n in range(12) if told[n][0] != "["
    )


def told_by_backup(folder, drive):
    """Give the words in which a backup was refused, or the records of one that was not."""
    try:
        made = back_up(folder, drive, NOON)
    except StoreError as error:
        return str(error)
    with unpacked(made, folder) as stage, connect(stage / STORE_FILE, read_only=True) as held:
        return str([key for (key,) in held.sql("select cost_id from costs").fetchall()])


def test_a_file_that_is_not_there_is_named(folder):
    with pytest.raises(StoreError, match="no such file"):
        restore_backup(folder, folder / "none.zip", NOON)


def test_the_files_of_two_stores_are_no_backup(folder, backed_up, tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_KEY_FILE", str(folder / KEY_FILE))
    other = tmp_path / "other"
    other.mkdir()
    take_in(other, "C9")
    (other / STORE_FILE).replace(folder / STORE_FILE)
    with pytest.raises(StoreError, match="belong"):
        back_up(folder, None, NOON)


RENAMINGS = 6
"""Three files are put aside, three in their place."""


@pytest.mark.parametrize("step", range(RENAMINGS + 1))
def test_a_swap_that_stops_anywhere_is_finished_by_the_next_command(
    folder, backed_up, monkeypatch, step
):
    """Stop before each renaming in turn, and once after the last."""
    done = 0
    rename = Path.replace

    def stop_in_time(path, target):
        nonlocal done
        is_of_swap = path.name != f"{READY_FILE}.new" and (
            RESTORE_FOLDER in path.parts or "replaced-" in str(target)
        )
        if is_of_swap and done == step:
            raise KeyboardInterrupt
        done += is_of_swap
        return rename(path, target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", stop_in_time)
        if step < RENAMINGS:
            with pytest.raises(KeyboardInterrupt):
                restore_backup(folder, backed_up, NOON)
        else:
            restore_backup(folder, backed_up, NOON)
    if step < RENAMINGS:
        with pytest.raises(StoreError, match="Run this command again"):
            state(folder)
    assert state(folder) == BEFORE
    assert not finish_restore(folder)
