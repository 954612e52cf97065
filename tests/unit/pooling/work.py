"""Stand-ins for measuring a council, in a module that a new process imports at once."""

from __future__ import annotations

import os
import signal
from pathlib import Path

from planner.pooling.gathering import Outcome

KILLER, KILLS_ONCE = "kills", "kills_once"
NAMES = ("a", "b", KILLER, "fails", "c")
ONE_LOSS = ("a", "b", KILLS_ONCE, "fails", "c")


def work(folder, asked):
    """Stand in for measuring a council: some take their process down, one cannot be measured."""
    name = Path(folder).name
    marker = Path(folder).parent / f"{name}.began"
    if name == KILLER or (name == KILLS_ONCE and not marker.exists()):
        marker.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    if name == "fails":
        return Outcome(b"", "no survey round has ten answers")
    return Outcome(name.encode())
