"""Personal details lie encrypted; the key is needed, and never shown."""

from __future__ import annotations

import stat
import sys
import traceback

import polars as pl
import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, KEY_FILE, STORE_FILE
from planner.store import connection
from planner.store.connection import connect, is_encrypted
from planner.store.keys import Key, make_key, read_key
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.queries.given import frame

NAME = "Wilhelmina Quillfeather"
CONTACT = {
    "household_id": ["H1"],
    "full_name": [NAME],
    "street_address": ["1 Sundial Row"],
    "postcode": ["0123"],
}
OWNER_ALONE = 0o600


def fill(folder, **options):
    with open_store(folder, **options) as store:
        with writing(store) as writer:
            load_id = writer.begin_load("a.csv", "mark")
            writer.write(load_id, "contacts", pl.DataFrame(CONTACT))
            writer.write(load_id, "costs", frame("costs", [{"cost_id": NAME}]))
        return store.notices


def names(folder):
    with open_store(folder, read_only=True) as store:
        return store.records("contacts")["full_name"].to_list()


def holds_name(path):
    return NAME.encode() in path.read_bytes()


@pytest.fixture
def folder(tmp_path):
    """Make a folder on a path with a space and an accent, as officers have them."""
    made = tmp_path / "Compost à l'école"
    made.mkdir()
    return made


def test_contacts_are_encrypted_with_a_key_file_of_the_owner_alone(folder):
    notices = fill(folder)
    assert is_encrypted(folder / CONTACTS_FILE)
    assert not holds_name(folder / CONTACTS_FILE)
    assert names(folder) == [NAME]
    if sys.platform != "win32":
        assert stat.S_IMODE((folder / KEY_FILE).stat().st_mode) == OWNER_ALONE
    assert len(notices) == 1
    assert "not protected" in notices[0]
    assert read_key(folder).secret not in notices[0]


def test_the_log_of_an_open_transaction_is_encrypted_as_well(folder):
    with open_store(folder) as store, writing(store) as writer:
        writer.write(writer.begin_load("a.csv", "mark"), "contacts", pl.DataFrame(CONTACT))
        writer.keep()
        log = folder / f"{CONTACTS_FILE}.draft.wal"
        assert log.stat().st_size > 0
        assert not holds_name(log)
        store.program.begin()


def test_a_key_that_is_there_is_used_and_kept(folder):
    key = make_key(folder)
    assert fill(folder) == []
    assert make_key(folder) == key


def test_open_contacts_of_an_older_planner_are_brought_under_a_key(folder):
    fill(folder, encrypt_contacts=False)
    assert holds_name(folder / CONTACTS_FILE)
    assert not (folder / KEY_FILE).exists()
    assert names(folder) == [NAME]
    with open_store(folder) as store:
        assert len(store.notices) == 1
    assert not any(holds_name(path) for path in folder.glob("contacts*"))
    assert names(folder) == [NAME]


def test_records_are_encrypted_when_asked_and_stay_so(folder):
    fill(folder)
    assert holds_name(folder / STORE_FILE)
    with open_store(folder, encrypt_records=True) as store:
        before = store.records("costs")
    assert not any(holds_name(path) for path in folder.iterdir())
    with open_store(folder) as store:
        assert store.records("costs").equals(before)
    assert is_encrypted(folder / STORE_FILE)


def test_new_records_are_encrypted_from_the_start_when_asked(folder):
    fill(folder, encrypt_records=True)
    assert not any(holds_name(path) for path in folder.iterdir())
    with open_store(folder, read_only=True) as store:
        assert store.records("costs").height == 1


@pytest.mark.parametrize("read_only", [True, False])
def test_another_key_is_told_by_its_file_and_not_shown(folder, read_only):
    fill(folder)
    secret = read_key(folder).secret
    other = "0123456789abcdef" * 4
    (folder / KEY_FILE).write_text(other)
    with (
        pytest.raises(StoreError, match=KEY_FILE) as caught,
        open_store(folder, read_only=read_only),
    ):
        pass
    told = "".join(traceback.format_exception(caught.value))
    assert "does not hold its key" in told
    assert other not in told
    assert secret not in told


def test_a_missing_key_is_told_and_no_other_is_made(folder):
    fill(folder)
    (folder / KEY_FILE).unlink()
    with pytest.raises(StoreError, match="its key file"), open_store(folder):
        pass
    assert not (folder / KEY_FILE).exists()


def test_a_key_from_the_environment_needs_no_file(folder, monkeypatch):
    monkeypatch.setenv("PLANNER_KEY", "it's a long one; with 'quotes'")
    assert fill(folder) == []
    assert not (folder / KEY_FILE).exists()
    assert names(folder) == [NAME]
    monkeypatch.setenv("PLANNER_KEY", "another long one, of other words")
    with pytest.raises(StoreError, match="variable PLANNER_KEY does not hold"):
        names(folder)


def test_the_key_file_may_lie_elsewhere(folder, tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_KEY_FILE", str(tmp_path / "safe.key"))
    fill(folder)
    assert (tmp_path / "safe.key").exists()
    assert not (folder / KEY_FILE).exists()
    assert names(folder) == [NAME]


@pytest.mark.parametrize("content", ["", "short\n"])
def test_a_key_file_without_a_key_is_told(folder, content):
    (folder / KEY_FILE).write_text(content)
    with pytest.raises(StoreError, match="found no key"):
        fill(folder)


def test_a_key_is_left_out_where_it_is_shown():
    assert "abcdefghijklmnop" not in repr(Key("abcdefghijklmnop", "here"))


def test_a_missing_extension_is_told_with_how_to_install_it(folder, monkeypatch):
    monkeypatch.setattr(connection, "PACKAGE", "duckdb_extension_missing")
    with pytest.raises(StoreError, match="pip install duckdb-extension-missing=="):
        fill(folder)


def test_a_file_changed_by_someone_without_the_key_is_refused(folder):
    fill(folder)
    path = folder / CONTACTS_FILE
    content = bytearray(path.read_bytes())
    content[len(content) // 2 :: 4096] = b"\x00" * len(content[len(content) // 2 :: 4096])
    path.write_bytes(content)
    with pytest.raises(StoreError, match="damaged, or changed"):
        names(folder)


def test_no_connection_fetches_an_extension_by_itself(folder):
    with connect(folder / "x.duckdb", read_only=False) as connection:
        for name in ("autoinstall_known_extensions", "autoload_known_extensions"):
            (setting,) = connection.execute(
                "select current_setting($name)", {"name": name}
            ).fetchone()
            assert setting is False
        (unsigned,) = connection.execute(
            "select current_setting('allow_unsigned_extensions')"
        ).fetchone()
        assert unsigned is False


def test_a_new_program_has_a_key_file_and_says_what_it_is(folder):
    ended = CliRunner().invoke(app, ["new", str(folder / "program")])
    assert "not protected" in ended.stderr
    secret = (folder / "program" / KEY_FILE).read_text().strip()
    assert secret not in ended.output
    assert make_key(folder / "program").secret == secret
