"""A key under a passphrase opens with it alone; a lost one is typed in from the sheet.

The stretching is held to RFC 7914's own vectors (section 12), which hashlib computes.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import sys

import keyring
import polars as pl
import pytest
from keyring.backend import KeyringBackend
from keyring.backends import fail, null
from keyring.errors import KeyringLocked

from planner.errors import StoreError
from planner.store.key_covers import unwrapped, wrapped
from planner.store.keys import _opened, key_path, make_key, protect_key, read_key, recovery_sheet
from planner.store.opening import open_store
from planner.store.writing import writing

PASSPHRASE = "nine worms under a hat"  # noqa: S105


def test_scrypt_is_that_of_the_rfc():
    made = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, dklen=64)
    assert made.hex().startswith("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162")


def test_a_key_comes_back_with_its_passphrase_alone():
    text = wrapped("a" * 64, PASSPHRASE)
    assert "a" * 64 not in text
    assert unwrapped(text, PASSPHRASE) == "a" * 64
    with pytest.raises(StoreError, match="not the passphrase"):
        unwrapped(text, PASSPHRASE + "!")
    flipped = text[:-1] + ("0" if text[-1] != "0" else "1")
    with pytest.raises(StoreError, match="not the passphrase"):
        unwrapped(flipped, PASSPHRASE)
    with pytest.raises(StoreError, match="damaged"):
        unwrapped(text[:40], PASSPHRASE)


def test_two_wrappings_of_one_key_have_nothing_in_common():
    first, second = (wrapped("a" * 64, PASSPHRASE).split() for _ in range(2))
    assert not set(first[1:]) & set(second[1:])


def test_a_short_passphrase_is_refused(tmp_path):
    make_key(tmp_path)
    before = key_path(tmp_path).read_text()
    with pytest.raises(StoreError, match="expected 12 or more"):
        protect_key(tmp_path, "short")
    assert key_path(tmp_path).read_text() == before


@pytest.fixture
def kept(tmp_path):
    """Keep a household's details under a key."""
    row = {"household_id": "H1", "full_name": "Ada Quill", "street_address": "1 Row"}
    with (
        open_store(tmp_path) as store,
        writing(store, written_at=dt.datetime(2026, 7, 1)) as writer,
    ):
        load_id = writer.begin_load("a.csv", "a")
        writer.write(load_id, "contacts", pl.DataFrame({**row, "postcode": "1", "phone": "1"}))
    return tmp_path


@pytest.mark.parametrize("keep", [recovery_sheet, lambda folder: protect_key(folder, PASSPHRASE)])
def test_a_key_that_opens_nothing_is_not_kept(kept, keep):
    before = key_path(kept).read_text()
    other = ("1" if before[0] == "0" else "0") + before[1:]
    key_path(kept).write_text(other)
    with pytest.raises(StoreError, match=r"contacts\.duckdb: .* does not hold its key"):
        keep(kept)
    assert key_path(kept).read_text() == other
    key_path(kept).write_text("\0" * 64)
    with pytest.raises(StoreError, match="no key of 16"):
        keep(kept)


@pytest.mark.parametrize("left", [0.2, 0.4])
def test_contacts_that_were_cut_off_are_named(kept, left):
    path = kept / "contacts.duckdb"
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * left)])
    with pytest.raises(StoreError, match=r"contacts\.duckdb: damaged.* Restore your backup"):
        names(kept)


def test_contacts_open_with_the_passphrase_and_from_the_sheet(kept, monkeypatch):
    tmp_path = kept
    sheet = recovery_sheet(tmp_path)
    protect_key(tmp_path, PASSPHRASE)
    _opened.cache_clear()
    with pytest.raises(StoreError, match="PLANNER_PASSPHRASE"):
        read_key(tmp_path)
    monkeypatch.setenv("PLANNER_PASSPHRASE", PASSPHRASE)
    assert names(tmp_path) == ["Ada Quill"]
    monkeypatch.delenv("PLANNER_PASSPHRASE")
    groups = re.findall(r"^    ((?:[0-9a-f]{4}\s+)+)\(\d\d\)$", sheet, re.MULTILINE)
    key_path(tmp_path).write_text("\n".join(groups))
    _opened.cache_clear()
    assert names(tmp_path) == ["Ada Quill"]


class Kept(KeyringBackend):
    """A keyring of this process alone."""

    priority = 1

    def __init__(self):
        super().__init__()
        self.entries = {}

    def set_password(self, service, username, password):
        self.entries[service, username] = password

    def get_password(self, service, username):
        return self.entries.get((service, username))

    def delete_password(self, service, username):
        del self.entries[service, username]


class Locked(Kept):
    """A keyring that nobody has unlocked."""

    def get_password(self, service, username):
        raise KeyringLocked("the collection is locked")


@pytest.fixture
def use_keyring():
    """Work with another keyring, and with the one that was there again."""
    before = keyring.get_keyring()
    yield lambda one: (_opened.cache_clear(), keyring.set_keyring(one))[1]
    keyring.set_keyring(before)
    _opened.cache_clear()


def test_a_key_in_the_keyring_opens_there_and_nowhere_else(tmp_path, use_keyring):
    secret, here, elsewhere = make_key(tmp_path).secret, Kept(), Kept()
    use_keyring(here)
    protect_key(tmp_path, None)
    assert secret not in key_path(tmp_path).read_text()
    assert list(here.entries.values()) == [secret]
    _opened.cache_clear()
    assert read_key(tmp_path).secret == secret
    use_keyring(elsewhere)
    with pytest.raises(StoreError, match=r"keyring of the computer.*recovery sheet"):
        read_key(tmp_path)
    use_keyring(here)
    protect_key(tmp_path, PASSPHRASE)
    assert here.entries == {}


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (fail.Keyring, "has no keyring"),
        (null.Keyring, "does not keep what it is given"),
        (Locked, r"does not answer \(the collection is locked\)"),
    ],
)
def test_without_a_keyring_the_key_file_stays_as_it_is(tmp_path, use_keyring, one, told):
    make_key(tmp_path)
    before = key_path(tmp_path).read_text()
    use_keyring(one())
    with pytest.raises(StoreError, match=told):
        protect_key(tmp_path, None)
    assert key_path(tmp_path).read_text() == before


def test_without_the_library_the_sentence_says_how_to_install_it(tmp_path, monkeypatch):
    make_key(tmp_path)
    monkeypatch.setitem(sys.modules, "keyring.errors", None)
    with pytest.raises(StoreError, match="pip install keyring"):
        protect_key(tmp_path, None)


def names(folder):
    with open_store(folder, read_only=True) as store:
        return store.records("contacts")["full_name"].to_list()
