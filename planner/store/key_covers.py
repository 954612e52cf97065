"""The key under a passphrase or in the system's keyring, so that the key file alone opens nothing.

The passphrase is stretched by scrypt (RFC 7914) from the standard library, whose output masks
the key and proves it: each salt is used once, so the mask is, too. Of a key in the keyring the key
file names the entry alone; the library `keyring` speaks to the Credential Locker of Windows, the
Keychain of macOS, and the Secret Service or KWallet elsewhere.
"""

from __future__ import annotations

import getpass
import hashlib
import hmac
import os
import secrets
import sys
from contextlib import contextmanager, suppress
from functools import lru_cache
from typing import TYPE_CHECKING

from planner.errors import StoreError
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Iterator


PASSPHRASE_VARIABLE = "PLANNER_PASSPHRASE"  # noqa: S105 - its name, not the passphrase
SHORTEST_PASSPHRASE = 12

_HEAD = "scrypt-1"
_SALT_BYTES, _PROOF_BYTES = 16, 32
_COST, _BLOCK, _LANES = 2**15, 8, 3
"""RFC 7914's N, r and p: 32 MiB of memory and about a third of a second of a laptop."""

_MEMORY_BYTES = 64 * 1024**2


def is_wrapped(text: str) -> bool:
    """Tell whether a key file holds a key under a passphrase."""
    return text.startswith(f"{_HEAD} ")


def wrapped(secret: str, passphrase: str) -> str:
    """Put a key under a passphrase.

    Raises
    ------
    StoreError
        The passphrase is too short.

    Examples
    --------
    >>> unwrapped(wrapped("0123456789abcdef", "nine worms in a bin"), "nine worms in a bin")
    '0123456789abcdef'
    """
    if len(passphrase) < SHORTEST_PASSPHRASE:
        counts = {"count": len(passphrase), "least": SHORTEST_PASSPHRASE}
        raise StoreError(say("keyfile.phrase_short", **counts))
    salt, content = secrets.token_bytes(_SALT_BYTES), secret.encode()
    mask, proof = _stretched(passphrase, salt, len(content))
    hidden = _masked(content, mask)
    return " ".join((_HEAD, salt.hex(), hidden.hex(), _proof(proof, salt + hidden).hex()))


def unwrapped(text: str, passphrase: str) -> str:
    """Take a key from under its passphrase.

    Raises
    ------
    StoreError
        The passphrase is another, or the text was changed.
    """
    try:
        salt, hidden, check = (bytes.fromhex(part) for part in text.split()[1:])
    except ValueError:
        raise StoreError(say("keyfile.damaged")) from None
    mask, proof = _stretched(passphrase, salt, len(hidden))
    if not hmac.compare_digest(_proof(proof, salt + hidden), check):
        raise StoreError(say("keyfile.wrong_phrase"))
    return _masked(hidden, mask).decode()


def asked_passphrase(origin: str) -> str:
    """Take the passphrase from the environment, or ask for it in a terminal.

    Raises
    ------
    StoreError
        There is neither.
    """
    given = os.environ.get(PASSPHRASE_VARIABLE)
    if given:
        return given
    if not sys.stdin.isatty():
        message = say("keyfile.under_phrase", origin=origin, variable=PASSPHRASE_VARIABLE)
        raise StoreError(message, path=origin)
    return getpass.getpass(say("keyfile.ask", origin=origin))


def _masked(content: bytes, mask: bytes) -> bytes:
    return bytes(one ^ other for one, other in zip(content, mask, strict=True))


def _proof(key: bytes, content: bytes) -> bytes:
    return hmac.digest(key, content, hashlib.sha256)


@lru_cache(maxsize=4)
def _stretched(passphrase: str, salt: bytes, length: int) -> tuple[bytes, bytes]:
    made = hashlib.scrypt(
        passphrase.encode(),
        salt=salt,
        n=_COST,
        r=_BLOCK,
        p=_LANES,
        maxmem=_MEMORY_BYTES,
        dklen=length + _PROOF_BYTES,
    )
    return made[:length], made[length:]


_SERVICE = "wormbin-planner"
_ENTRY = "keyring-1"


def is_in_keyring(text: str) -> bool:
    """Tell whether a key file names an entry of the keyring."""
    return text.startswith(f"{_ENTRY} ")


def put_in_keyring(secret: str) -> str:
    """Put a key into the keyring, and return the text that names it there.

    Raises
    ------
    StoreError
        There is no keyring, or it does not give the key back.
    """
    text = f"{_ENTRY} {secrets.token_hex(8)}"
    with _answering("keyring.stays"):
        import keyring

        keyring.set_password(_SERVICE, text, secret)
        # one that keeps nothing takes whatever it is given
        if keyring.get_password(_SERVICE, text) == secret:
            return text
    raise StoreError(say("keyring.keeps_nothing"))


def from_keyring(text: str, origin: str) -> str:
    """Take the key that a key file names out of the keyring.

    Raises
    ------
    StoreError
        There is no keyring, it is locked, or it is that of another computer or user.
    """
    with _answering("keyring.sheet"):
        import keyring

        secret = keyring.get_password(_SERVICE, text)
        if secret:
            return secret
    message = say("keyring.elsewhere", origin=origin, instead=say("keyring.sheet"))
    raise StoreError(message, path=origin)


def drop_from_keyring(text: str) -> None:
    """Take a key that is kept elsewhere now out of the keyring; one that is gone is no loss."""
    with suppress(StoreError), _answering("keyring.stays"):
        import keyring

        keyring.delete_password(_SERVICE, text)


@contextmanager
def _answering(instead: str) -> Iterator[None]:
    """Say in words that there is no keyring, or why it does not answer, and what to do instead."""
    try:
        from keyring.errors import KeyringError, NoKeyringError
    except ImportError:
        raise StoreError(say("keyring.no_library", instead=say(instead))) from None
    try:
        yield
    except NoKeyringError:
        raise StoreError(say("keyring.none", instead=say(instead))) from None
    except KeyringError as error:
        why = str(error) or say("keyring.no_reason")
        message = say("keyring.silent", why=why, instead=say(instead))
        raise StoreError(message) from None
