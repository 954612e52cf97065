"""The key in the keyring of the system, where a copy of the folder does not take it along.

The key file then names the entry alone. The library `keyring` speaks to the Credential Locker of
Windows, the Keychain of macOS, and the Secret Service or KWallet elsewhere.
"""

from __future__ import annotations

import secrets
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from planner.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Iterator

SERVICE = "wormbin-planner"
_HEAD = "keyring-1"
_SHEET = "Write the key of the recovery sheet into the key file instead."


def is_entry(text: str) -> bool:
    """Tell whether a key file names an entry of the keyring."""
    return text.startswith(f"{_HEAD} ")


def kept(secret: str) -> str:
    """Put a key into the keyring, and return the text that names it there.

    Raises
    ------
    StoreError
        There is no keyring, or it does not give the key back.
    """
    text = f"{_HEAD} {secrets.token_hex(8)}"
    with _told("The key file stays as it is."):
        import keyring

        keyring.set_password(SERVICE, text, secret)
        # one that keeps nothing takes whatever it is given
        if keyring.get_password(SERVICE, text) == secret:
            return text
    message = (
        "This computer's keyring does not keep what it is given. The key file stays as it is; "
        "put it under a passphrase with `planner key --passphrase`."
    )
    raise StoreError(message)


def fetched(text: str, origin: str) -> str:
    """Take the key that a key file names out of the keyring.

    Raises
    ------
    StoreError
        There is no keyring, it is locked, or it is that of another computer or user.
    """
    with _told(_SHEET):
        import keyring

        secret = keyring.get_password(SERVICE, text)
        if secret:
            return secret
    message = (
        f"{origin}: names a key in the keyring of the computer and user where it was put there; "
        f"it is not in this one. Work there. {_SHEET}"
    )
    raise StoreError(message, path=origin)


def dropped(text: str) -> None:
    """Take a key that is kept elsewhere now out of the keyring; one that is gone is no loss."""
    with suppress(StoreError), _told(""):
        import keyring

        keyring.delete_password(SERVICE, text)


@contextmanager
def _told(instead: str) -> Iterator[None]:
    """Say in words that there is no keyring, or why it does not answer."""
    try:
        from keyring.errors import KeyringError, NoKeyringError
    except ImportError:
        message = (
            "The library that speaks to the keyring is not here. Install it with "
            f"`pip install keyring`. {instead}"
        )
        raise StoreError(message) from None
    try:
        yield
    except NoKeyringError:
        message = f"This computer has no keyring that the planner can use. {instead}"
        raise StoreError(message) from None
    except KeyringError as error:
        reason = str(error) or "it gives no reason"
        message = f"This computer's keyring does not answer ({reason}). Unlock it. {instead}"
        raise StoreError(message) from None
