"""A folder or a backup that somebody else made reaches no file outside, and hides none."""

from __future__ import annotations

import errno
import json
import shutil
import zipfile
from types import SimpleNamespace

import pytest

from planner.errors import StoreError
from planner.paths import BACKUP_LIST_FILE, CONTACTS_FILE, PROGRAM_FILE, STORE_FILE
from planner.store.backup_list import clear_unfinished
from planner.store.backups import MANIFEST, time_of_backup
from planner.store.blanking import clean_copies
from planner.store.drafts import Draft, rewrite
from planner.store.keeping import back_up, erase_households, restore_backup
from planner.store.matching import Details
from planner.store.scanning import remaining, searched
from planner.store.settling import READY_FILE, RESTORE_FOLDER, finish_restore
from tests.unit.store.test_backups import NOON, take_in
from tests.unit.store.test_scanning import DETAILS, NAME

READY = {"names": [], "issues": [], "replaced": "replaced-2026-07-01-120000"}


@pytest.mark.parametrize(
    "changed",
    [
        {"issues": ["../victim"]},
        {"issues": ["issued/../../victim"]},
        {"issues": ["victim"]},
        {"issues": 3},
        {"replaced": "../replaced-victim"},
        {"replaced": "replaced-/../../victim"},
        {"replaced": "victim"},
        {"replaced": None},
        {"names": None, "replaced": 1},
    ],
)
def test_a_restore_that_somebody_prepared_moves_nothing_out_of_the_folder(tmp_path, changed):
    folder = tmp_path / "program"
    stage = folder / RESTORE_FOLDER
    stage.mkdir(parents=True)
    (folder / "victim").write_text("theirs")
    (tmp_path / "victim").write_text("mine")
    (stage / READY_FILE).write_text(json.dumps({**READY, **changed}))
    with pytest.raises(StoreError, match="not what a restore writes"):
        finish_restore(folder)
    assert (tmp_path / "victim").read_text() == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["program", "victim"]


def test_a_restore_note_that_was_cut_off_ends_in_a_sentence(tmp_path):
    (tmp_path / RESTORE_FOLDER).mkdir()
    (tmp_path / RESTORE_FOLDER / READY_FILE).write_text('{"names": [')
    with pytest.raises(StoreError, match="Delete the folder"):
        finish_restore(tmp_path)


def test_a_list_of_backups_that_names_other_files_has_none_of_them_removed(tmp_path):
    folder, mine = tmp_path / "program", tmp_path / "thesis.new"
    folder.mkdir()
    mine.write_text("mine")
    begun = tmp_path / "planner-backup-2026-07-01-120000.zip.new"
    begun.write_text("cut off")
    listed = [str(path).removesuffix(".new") for path in (mine, begun)]
    (folder / BACKUP_LIST_FILE).write_text(json.dumps({"folder": str(folder), "backups": listed}))
    clear_unfinished(folder)
    assert mine.exists()
    assert not begun.exists()


@pytest.mark.parametrize("name", [STORE_FILE, CONTACTS_FILE])
@pytest.mark.parametrize("change", [Draft, lambda path, key: rewrite(path, key, key)])
def test_a_store_that_lies_elsewhere_is_not_replaced_in_its_link(tmp_path, name, change):
    """Erasing would write a new file where the link is, and the details would stay at its end."""
    there, link = tmp_path / "there.duckdb", tmp_path / "program" / name
    there.write_bytes(b"details")
    link.parent.mkdir()
    link.symlink_to(there)
    with pytest.raises(StoreError, match="is a link to"):
        change(link, None)
    assert link.is_symlink()
    assert there.read_bytes() == b"details"


def test_a_list_that_is_a_link_keeps_its_rows_and_is_named(tmp_path):
    folder, desk = tmp_path / "program", tmp_path / "desk"
    (folder / "private").mkdir(parents=True)
    desk.mkdir()
    (desk / "calls.csv").write_text(f"name\n{NAME}\n", "utf-8")
    (folder / "private" / "calls.csv").symlink_to(desk / "calls.csv")
    (folder / "private" / "desk").symlink_to(desk)
    assert clean_copies(folder, DETAILS) == []
    assert NAME in (desk / "calls.csv").read_text("utf-8")
    found = remaining(folder, searched(folder, [], []), DETAILS)
    assert [(one.path.name, one.where.split(" to ")[0]) for one in found] == [
        ("calls.csv", ""),
        ("desk", "is a link"),
    ]
    assert (
        remaining(folder, [folder / "private" / "calls.csv"], Details(["Else Other"], [], [])) == ()
    )


def test_a_backup_that_is_a_link_is_named_to_be_deleted_by_hand(tmp_path):
    folder = tmp_path / "program"
    folder.mkdir()
    (folder / PROGRAM_FILE).write_text("# one\n")
    take_in(folder, "C1")
    kept = back_up(folder, None, NOON)
    moved = tmp_path / kept.name
    kept.rename(moved)
    kept.symlink_to(moved)
    was = moved.read_bytes()
    erased = erase_households(folder, ["H1"], NOON)
    assert erased.unreachable == (kept,)
    assert erased.backups == ()
    assert moved.read_bytes() == was


def backup_of(path, **parts):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name.replace("_", "."), content)
    return path


def test_a_backup_without_our_seal_is_not_even_unpacked(tmp_path, monkeypatch):
    manifest = json.dumps({"made_at": "2026-07-01T12:00:00", "sha256": {STORE_FILE: "0"}})
    path = backup_of(tmp_path / "a.zip", manifest_json=manifest, program_duckdb=b"x")
    monkeypatch.setattr(zipfile.ZipFile, "extract", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(StoreError, match="anyone could have written it"):
        restore_backup(tmp_path / "program", path, time_of_backup(path))


def test_a_backup_that_would_fill_the_disk_is_refused_before_it_is_unpacked(tmp_path, monkeypatch):
    manifest = json.dumps({"made_at": "2026-07-01T12:00:00", "sha256": {STORE_FILE: "0"}})
    path = backup_of(tmp_path / "a.zip", manifest_json=manifest, program_duckdb=bytes(1 << 20))
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=1 << 19))
    monkeypatch.setattr(zipfile.ZipFile, "extract", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(StoreError) as told:
        restore_backup(tmp_path / "program", path, time_of_backup(path), unsealed=True)
    assert "disk" in str(told.value) or errno.errorcode[errno.ENOSPC] in str(told.value)


def test_a_list_of_a_backup_that_unpacks_to_gigabytes_is_refused(tmp_path):
    path = backup_of(tmp_path / "a.zip", **{MANIFEST: bytes(65 << 20)})
    with pytest.raises(StoreError, match="no backup of this program"):
        time_of_backup(path)
