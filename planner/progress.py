"""Who is told what is being done while a command works."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str], None]


def no_progress(_: str) -> None:
    """Tell nobody."""
