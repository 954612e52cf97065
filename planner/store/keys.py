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
from planner.paths import KEY_FILE
from planner.store.files import sync_folder, write_whole
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
        return _checked(given.strip(), f"the variable {KEY_VARIABLE}")
    path = key_path(folder)
    try:
        text = path.read_text(encoding="utf-8").strip()
        return _checked(_opened(text, str(path)), str(path))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError):
        message = f"{path}: the key file cannot be read. Give yourself the right to read it."
        raise StoreError(message, path=str(path)) from None


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
    folder
        Program folder.
    passphrase
        The passphrase, or another one; None puts the key into the keyring.

    Raises
    ------
    StoreError
        There is no key file, the passphrase is too short, there is no keyring, or the file
        cannot be written.
    """
    key, path = read_key(folder), key_path(folder)
    if key is None or not path.exists():
        message = f"{path}: no key file. One is made with the program folder, by `planner new`."
        raise StoreError(message, path=str(path))
    before = path.read_text(encoding="utf-8").strip()
    text = put_in_keyring(key.secret) if passphrase is None else wrapped(key.secret, passphrase)
    try:
        write_whole(path, f"{text}\n".encode(), mode=0o600)
    except OSError as error:
        message = f"{path}: the key file cannot be written ({error.strerror})."
        raise StoreError(message, path=str(path)) from None
    # only once the key stands elsewhere: a command that is killed loses none
    if is_in_keyring(before):
        drop_from_keyring(before)
    return path


def recovery_sheet(folder: Path) -> str:
    """Write a sheet to print and lock away, from which the key can be typed in again.

    Raises
    ------
    StoreError
        There is no key.
    """
    key = read_key(folder)
    if key is None:
        message = f"{key_path(folder)}: no key yet. One is made by `planner new`."
        raise StoreError(message, path=str(folder))
    groups = [key.secret[start : start + 4] for start in range(0, len(key.secret), 4)]
    lines = [groups[start : start + 4] for start in range(0, len(groups), 4)]
    typed = "\n".join("    " + "  ".join(line) + f"    ({_check(line)})" for line in lines)
    return (
        f"Recovery sheet of {folder.absolute()}\n\n"
        "Whoever holds this sheet and a copy of the folder can read the personal details. Print\n"
        "it, lock it away in another building, and keep no file of it.\n\n"
        f"{typed}\n\n"
        "If the key file, its passphrase or the computer whose keyring has the key is lost: write\n"
        f"these groups, without the numbers in brackets, into a plain text file named {KEY_FILE}\n"
        "in the program folder. The number in brackets is that of its line: count again where\n"
        "yours differs.\n"
    )


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
    try:
        write_whole(path, f"{secrets.token_hex(_BYTES)}\n".encode(), mode=0o600)
        sync_folder(path.parent)
    except OSError as error:
        message = f"{path}: the key file cannot be written ({error.strerror})."
        raise StoreError(message, path=str(path)) from None
    made = read_key(folder)
    if made is None:
        message = f"{path}: the key file was made and is gone again."
        raise StoreError(message, path=str(path))
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
        message = (
            f"{path}: encrypted, and its key file {key_path(folder)} is not there. Put the key "
            f"file back, or name its place in the variable {KEY_FILE_VARIABLE}."
        )
        raise StoreError(message, path=str(path))
    return key


def key_warning(folder: Path, platform: str = sys.platform) -> str:
    """Say where the key lies and what that means."""
    if os.environ.get(KEY_VARIABLE):
        return (
            f"Personal details are encrypted with the key in the variable {KEY_VARIABLE}. Keep "
            "a copy of it apart: without it they cannot be read again."
        )
    return (
        f"Personal details are encrypted with the key in {key_path(folder)}. Keep a copy of it "
        "apart: without it they cannot be read again. A copy of the folder with the key in it "
        f"is not protected; `planner backup` leaves the key out.{_others(platform)}"
    )


def _others(platform: str) -> str:
    """Say where the mode of the key file keeps nobody out."""
    if platform != "win32":
        return ""
    return (
        " On Windows whoever may open this folder may read the key: look at the folder's "
        "Properties, Security, and keep the key in a folder that is yours alone."
    )


def _checked(secret: str, origin: str) -> Key:
    if len(secret) < _SHORTEST:
        message = f"{origin}: found no key of {_SHORTEST} characters or more. Restore the key file."
        raise StoreError(message, path=origin)
    return Key(secret, origin)
