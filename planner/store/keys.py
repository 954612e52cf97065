"""The key of the encrypted files: from a key file or the environment, never shown.

The key file lies in the program folder unless PLANNER_KEY_FILE names another place. A copy
of the folder that has the key file in it is open to whoever holds the copy, unless the key is
under a passphrase or in the system's keyring.
"""

from __future__ import annotations

import os
import re
import secrets
import sys
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from planner.errors import StoreError
from planner.messages import say
from planner.paths import CONTACTS_FILE, KEY_FILE, STORE_FILE
from planner.store.connection import connect, is_encrypted
from planner.store.files import disk_faults, fault_of, sync_folder, write_whole
from planner.store.key_covers import (
    asked_passphrase,
    drop_from_keyring,
    from_keyring,
    is_in_keyring,
    is_wrapped,
    put_in_keyring,
    unwrapped,
    wrapped,
)

KEY_VARIABLE = "PLANNER_KEY"
KEY_FILE_VARIABLE = "PLANNER_KEY_FILE"
_BYTES = 32
_SHORTEST = 16


@dataclass(frozen=True)
class Key:
    """A key, and where it was found; its text is left out wherever it is shown."""

    secret: str = field(repr=False)
    origin: str


def key_path(folder: Path) -> Path:
    """Tell where the key file of a program folder is or would be made."""
    named = os.environ.get(KEY_FILE_VARIABLE)
    return Path(named) if named else folder / KEY_FILE


def read_key(folder: Path) -> Key | None:
    """Read the key from the environment or the key file; None where there is none.

    Raises
    ------
    StoreError
        The key file cannot be read, or holds no key.
    """
    given = os.environ.get(KEY_VARIABLE)
    if given:
        return _checked(given.strip(), say("keyfile.variable", variable=KEY_VARIABLE))
    path = key_path(folder)
    try:
        text = path.read_text(encoding="utf-8").strip()
        return _checked(_opened(text, str(path)), str(path))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError):
        raise fault_of(path, "keyfile.unread") from None


@lru_cache(maxsize=4)
def _opened(text: str, origin: str) -> str:
    """Take the key from under its passphrase, which is asked for once a command."""
    if is_wrapped(text):
        return unwrapped(text, asked_passphrase(origin))
    if is_in_keyring(text):
        return from_keyring(text, origin)
    # a key that was typed in from the recovery sheet stands in groups
    joined = "".join(text.split())
    return joined if re.fullmatch(r"[0-9a-f]{64}", joined) else text


def protect_key(folder: Path, passphrase: str | None) -> Path:
    """Put the key of a program folder under a passphrase, or into the system's keyring.

    Parameters
    ----------
    passphrase
        The passphrase, or another one; None puts the key into the keyring.

    Raises
    ------
    StoreError
        There is no key file, its key is not the one of the records and contacts, the passphrase
        is too short, there is no keyring, or the file cannot be written.
    """
    key, path = read_key(folder), key_path(folder)
    if key is None or not path.exists():
        raise fault_of(path, "keyfile.none")
    _refuse_another_key(folder, key)
    before = path.read_text(encoding="utf-8").strip()
    text = put_in_keyring(key.secret) if passphrase is None else wrapped(key.secret, passphrase)
    with disk_faults(path, "keyfile.not_written"):
        write_whole(path, f"{text}\n".encode(), mode=0o600)
    # only once the key stands elsewhere: a command that is killed loses none
    if is_in_keyring(before):
        drop_from_keyring(before)
    return path


def recovery_sheet(folder: Path) -> str:
    """Write a sheet to print and lock away, from which the key can be typed in again.

    Raises
    ------
    StoreError
        There is no key, or it is not the one of the records and contacts.
    """
    key = read_key(folder)
    if key is None:
        raise fault_of(key_path(folder), "keyfile.no_key_yet")
    _refuse_another_key(folder, key)
    groups = [key.secret[start : start + 4] for start in range(0, len(key.secret), 4)]
    lines = [groups[start : start + 4] for start in range(0, len(groups), 4)]
    typed = "\n".join("    " + "  ".join(line) + f"    ({_check(line)})" for line in lines)
    return say("keyfile.sheet", folder=str(folder.absolute()), typed=typed, file=KEY_FILE)


def _refuse_another_key(folder: Path, key: Key) -> None:
    """Open the encrypted files: a key that is kept must be the one that opens them."""
    for path in (folder / STORE_FILE, folder / CONTACTS_FILE):
        if path.exists() and is_encrypted(path):
            connect(path, read_only=True, key=key).close()


def _check(groups: list[str]) -> str:
    """Two digits that change when a letter of a line is mistyped or two are swapped."""
    letters = "".join(groups)
    return f"{sum(place * ord(sign) for place, sign in enumerate(letters, 1)) % 97:02d}"


def make_key(folder: Path) -> Key:
    """Make a key file that its owner alone may read; a key that is there stays.

    Raises
    ------
    StoreError
        The key file cannot be written.
    """
    there = read_key(folder)
    if there is not None:
        return there
    path = key_path(folder)
    with disk_faults(path, "keyfile.not_written"):
        write_whole(path, f"{secrets.token_hex(_BYTES)}\n".encode(), mode=0o600)
        sync_folder(path.parent)
    made = read_key(folder)
    if made is None:
        raise fault_of(path, "keyfile.gone")
    return made


def needed_key(folder: Path, path: Path) -> Key:
    """Read the key of an encrypted file.

    Raises
    ------
    StoreError
        There is no key.
    """
    key = read_key(folder)
    if key is None:
        lies = {"key": str(key_path(folder)), "variable": KEY_FILE_VARIABLE}
        raise fault_of(path, "keyfile.not_there", **lies)
    return key


def key_of(folder: Path, path: Path, named: Path | None = None) -> Key | None:
    """Read the key that opens a file; None for an open file, or where there is none.

    Raises
    ------
    StoreError
        It is encrypted and the program folder has no key; the error may name another file.
    """
    is_locked = path.is_file() and is_encrypted(path)
    return needed_key(folder, named or path) if is_locked else None


def key_warning(folder: Path, platform: str = sys.platform) -> str:
    """Say where the key lies and what that means."""
    if os.environ.get(KEY_VARIABLE):
        return say("keyfile.warning_variable", variable=KEY_VARIABLE)
    # there the mode of the key file keeps nobody out
    others = say("keyfile.windows") if platform == "win32" else ""
    return say("keyfile.warning", path=str(key_path(folder)), others=others)


def _checked(secret: str, origin: str) -> Key:
    if len(secret) < _SHORTEST or not secret.isprintable():
        message = say("keyfile.short", origin=origin, least=_SHORTEST)
        raise StoreError(message, path=origin)
    return Key(secret, origin)
