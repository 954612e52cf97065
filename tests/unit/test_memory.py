"""Freed memory goes back to the machine."""

from __future__ import annotations

import resource
import sys
from pathlib import Path

import numpy as np
import pytest

from planner.memory import release_freed_memory

MIB = 2**20


def held_bytes():
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()


@pytest.mark.skipif(sys.platform != "linux", reason="the C library's own way of keeping it")
def test_what_lies_between_blocks_in_use_goes_back_too():
    np.ones(32 * MIB // 8)  # once freed, blocks smaller than it are kept
    blocks = [np.ones(MIB // 16) for _ in range(300)]
    before = held_bytes()
    kept = blocks[::3]
    del blocks
    release_freed_memory()
    assert before - held_bytes() > 50 * MIB
    assert len(kept) == 100
