"""The key of the encrypted files: from a key file or the environment, never shown.

The key file lies in the program folder unless PLANNER_KEY_FILE names another place. A copy
of the folder that has the key file in it is open to whoever holds the copy.
"""

from __future__ import annotations

import os
import secrets
import sys
from dataclasses import dataclass, field
from pathlib import Path

from planner.errors import StoreError
from planner.paths import KEY_FILE
from planner.store.files import sync_folder, write_whole

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
        return _checked(path.read_text(encoding="utf-8").strip(), str(path))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError):
        message = f"{path}: the key file cannot be read. Give yourself the right to read it."
        raise StoreError(message, path=str(path)) from None


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
