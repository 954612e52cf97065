"""A key under a passphrase, so that the key file alone opens nothing.

The passphrase is stretched by scrypt (RFC 7914) from the standard library, whose output masks
the key and proves it: each salt is used once, so the mask is, too.
"""

from __future__ import annotations

import getpass
import hashlib
import hmac
import os
import secrets
import sys
from functools import lru_cache

from planner.errors import StoreError

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
        message = (
            f"The passphrase has {len(passphrase)} characters, expected {SHORTEST_PASSPHRASE} or "
            "more: four or five words that do not belong together. Nothing was changed."
        )
        raise StoreError(message)
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
        message = "The key file is damaged. Restore it, or write the key of the recovery sheet in."
        raise StoreError(message) from None
    mask, proof = _stretched(passphrase, salt, len(hidden))
    if not hmac.compare_digest(_proof(proof, salt + hidden), check):
        message = "That is not the passphrase of this key. Try again, or take the recovery sheet."
        raise StoreError(message)
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
        message = (
            f"{origin}: is under a passphrase. Run the command in a terminal, or set the variable "
            f"{PASSPHRASE_VARIABLE}."
        )
        raise StoreError(message, path=origin)
    return getpass.getpass(f"Passphrase of {origin}: ")


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
