"""Random streams by name, so that one more use does not change the others."""

from __future__ import annotations

import hashlib

import numpy as np


def random_stream(seed: int, name: str) -> np.random.Generator:
    """Begin the generator of one named use of chance.

    Examples
    --------
    >>> a, b = random_stream(7, "diaries"), random_stream(7, "diaries")
    >>> bool(a.integers(1000) == b.integers(1000))
    True
    """
    key = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big")
    return np.random.default_rng([seed, key])
