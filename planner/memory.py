"""Memory that nothing uses any more, given back to the machine."""

from __future__ import annotations

import ctypes
import sys


def release_freed_memory() -> None:
    """Give back what was freed, where the C library keeps it for later.

    That of Linux keeps blocks of up to 32 MB, among which a few in use are scattered: with a year
    of a million households measured, as much again as was in use. Elsewhere nothing is done.
    """
    if sys.platform == "linux":
        # not every C library of Linux has it
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(ctypes.c_size_t(0))
