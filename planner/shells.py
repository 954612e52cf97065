"""Commands as they are pasted into a shell: quoted for the system they are shown on."""

from __future__ import annotations

import re
import shlex
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

_PLAIN_ON_WINDOWS = re.compile(r"[\w\-./\\:=+@~]+")


def shell_command(words: Iterable[str], platform: str = sys.platform) -> str:
    r"""Write words as one command for the shells of a system.

    On Windows double quotes serve both the command prompt and PowerShell, which take single
    ones in different ways. A file's name cannot hold a double quote there.

    Examples
    --------
    >>> shell_command(["planner", "load", "my files/a.xlsx"], "linux")
    "planner load 'my files/a.xlsx'"
    >>> shell_command(["planner", "load", "C:\\my files\\a & b.xlsx"], "win32")
    'planner load "C:\\my files\\a & b.xlsx"'
    """
    if platform != "win32":
        return shlex.join(words)
    return " ".join(_on_windows(word) for word in words)


def _on_windows(word: str) -> str:
    if _PLAIN_ON_WINDOWS.fullmatch(word):
        return word
    # a backslash before the closing quote would quote it
    return f'"{word}\\"' if word.endswith("\\") else f'"{word}"'
