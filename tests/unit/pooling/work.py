"""Stand-ins for measuring a council, in a module that a new process imports at once."""

from __future__ import annotations

import os
import signal
import threading
from pathlib import Path

from planner.pooling.gathering import Outcome

KILLER, KILLS_ONCE = "kills", "kills_once"
NAMES = ("a", "b", KILLER, "fails", "c")
ONE_LOSS = ("a", "b", KILLS_ONCE, "fails", "c")

ANY_PORT = ":0"
"""Of a cluster's dashboard: that of habit may be taken, which Dask warns of."""

ENOUGH = threading.Event()
"""Ends the tasks that a worker in the test's own process cannot be killed for."""


def never_done(folder, asked):
    """Stand in for a council that takes longer than any test."""
    ENOUGH.wait(30)


def cannot_begin(folder, asked):
    """Stand in for a worker without the planner."""
    raise ImportError("no planner here")


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
