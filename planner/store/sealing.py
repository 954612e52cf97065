"""The seal of a backup: proof that whoever made it held the program's key.

Checksums show what went wrong by itself; anyone who changes a backup can make them again.
The seal is an HMAC-SHA-256 (RFC 2104, FIPS 198-1) over the list of checksums.
"""

from __future__ import annotations

import hashlib
import hmac
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.store.keys import Key

# apart from the use of the key for encryption, so that neither tells of the other
_USE = b"wormbin-planner: seal of a backup, 1"


class Seal(Enum):
    """What the seal of a backup says; the value ends a sentence that begins with its name."""

    HOLDS = "sealed with the key of this program"
    ABSENT = "not sealed"
    UNKNOWN = "sealed, but the key that would prove it is not here"
    BROKEN = "changed after it was sealed, or sealed with another key"


def seal_of(manifest: bytes, key: Key) -> str:
    """Work out the seal of a manifest, in hexadecimal."""
    own = hmac.digest(key.secret.encode(), _USE, hashlib.sha256)
    return hmac.digest(own, manifest, hashlib.sha256).hex()


def judge(manifest: bytes, seal: str | None, key: Key | None) -> Seal:
    """Tell what a seal proves of a manifest.

    Examples
    --------
    >>> from planner.store.keys import Key
    >>> mine, other = Key("a" * 16, "mine"), Key("b" * 16, "other")
    >>> judge(b"{}", seal_of(b"{}", mine), mine).name, judge(b"{}", None, mine).name
    ('HOLDS', 'ABSENT')
    >>> judge(b"{}", seal_of(b"{}", other), mine).name, judge(b"{}", "00", None).name
    ('BROKEN', 'UNKNOWN')
    """
    if seal is None:
        return Seal.ABSENT
    if key is None:
        return Seal.UNKNOWN
    is_own = hmac.compare_digest(seal_of(manifest, key).encode(), seal.encode())
    return Seal.HOLDS if is_own else Seal.BROKEN
