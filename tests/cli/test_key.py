"""planner key, as an officer types it: the sheet to lock away, and a passphrase over the key."""

from __future__ import annotations

import re

from typer.testing import CliRunner

from planner.cli import app
from planner.paths import KEY_FILE
from planner.store.key_covers import unwrapped

PASSPHRASE = "nine worms under a hat"  # noqa: S105


def key(folder, *words, typed=None, code=0):
    ended = CliRunner().invoke(app, ["key", *words, "--program", str(folder)], input=typed)
    assert ended.exit_code == code, ended.output
    return ended


def plain(text):
    """Leave signs and spaces out, by which a sheet parts what is to be typed in."""
    return re.sub(r"[^0-9a-z]", "", text.lower())


def test_the_sheet_holds_the_key_and_a_passphrase_hides_it_in_the_file(begun):
    path = begun / KEY_FILE
    secret = path.read_text("utf-8").strip()
    sheet = key(begun)
    assert secret not in plain(sheet.stderr)
    assert "planner key --passphrase" in sheet.stderr
    told = key(begun, "--passphrase", typed=f"{PASSPHRASE}\n{PASSPHRASE}\n")
    assert f"{path}: under the passphrase now" in " ".join(told.stdout.split())
    assert PASSPHRASE not in told.output
    assert secret not in path.read_text("utf-8")
    assert path.stat().st_mode & 0o077 == 0
    assert unwrapped(path.read_text("utf-8").strip(), PASSPHRASE) == secret


def test_two_passphrases_that_differ_and_two_ways_at_once_leave_the_key_as_it_was(begun):
    before = (begun / KEY_FILE).read_bytes()
    differing = key(begun, "--passphrase", typed="nine worms\nten worms under\n", code=1)
    assert "under the passphrase now" not in differing.output
    both = key(begun, "--passphrase", "--keyring", code=2)
    assert "expected one of them" in both.stderr
    assert (begun / KEY_FILE).read_bytes() == before
