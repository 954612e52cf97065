"""What other systems do otherwise, simulated: none of them can be tried here."""

from __future__ import annotations

import ast
import fcntl
import os
import re
import shlex
from pathlib import Path

import pytest

import planner
from planner.shells import shell_command
from planner.store.files import flush
from planner.store.keys import key_warning
from planner.vetting.guard import missing_limits

NOT_ON_WINDOWS = {"fcntl", "grp", "posix", "pty", "pwd", "resource", "syslog", "termios"}
"""Modules for Unix alone; Python's documentation, "Unix-specific services"."""

UNIX_CALLS = {
    "chown", "fork", "forkpty", "getegid", "geteuid", "getgid", "getloadavg", "getpgid", "getuid",
    "kill", "killpg", "lchown", "mkfifo", "mknod", "nice", "pread", "pwrite", "setgid", "setpgid",
    "setsid", "setuid", "sync", "sysconf", "uname", "umask", "wait", "waitpid", "SIGALRM",
    "SIGHUP", "SIGKILL", "SIGXCPU", "alarm", "setitimer",
}  # fmt: skip
"""Names of os and signal whose documentation says "Availability: Unix", or not Windows."""

UNIX = re.compile(rf"\b({'|'.join(NOT_ON_WINDOWS | UNIX_CALLS)})\b")

GUARDED = {
    ("store/files.py", "fcntl"): "macOS alone, and msvcrt on Windows",
    ("vetting/guard.py", "resource"): "after missing_limits",
    ("vetting/guard.py", "sysconf"): "AttributeError is expected",
    ("vetting/guard.py", "SIGKILL"): "AttributeError is expected",
    ("vetting/guard.py", "SIGXCPU"): "AttributeError is expected",
}

PATHS = ["C:\\worms 2026\\intake.xlsx", "C:\\a & b\\", "it's.csv", "plain.csv", "50% (new).xlsx"]


def windows_words(line):
    """Split a line as the C runtime of Windows does (its rules for quotes and backslashes)."""
    words, word, quoted, slashes = [], "", False, 0
    for sign in line + " ":
        if sign == "\\":
            slashes += 1
            continue
        is_quote = sign == '"'
        word += "\\" * (slashes // 2 if is_quote else slashes)
        if is_quote and slashes % 2 == 0:
            quoted = not quoted
        elif sign == " " and not quoted:
            words += [word] if word else []
            word = ""
        else:
            word += sign
        slashes = 0
    return words


def test_what_windows_does_not_have_is_used_in_guarded_places_alone():
    root = Path(planner.__file__).parent
    used = set()
    for path in root.rglob("*.py"):
        place, text = path.relative_to(root).as_posix(), path.read_text(encoding="utf-8")
        is_likely = UNIX.search(text)
        for node in ast.walk(ast.parse(text)) if is_likely else ():
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = {alias.name for alias in node.names} | {getattr(node, "module", None)}
                used |= {(place, name) for name in names & NOT_ON_WINDOWS}
            of = getattr(getattr(node, "value", None), "id", "")
            if isinstance(node, ast.Attribute) and of in ("os", "signal"):
                used |= {(place, name) for name in {node.attr} & UNIX_CALLS}
    assert used == set(GUARDED)


@pytest.mark.parametrize("path", PATHS)
def test_a_pasted_command_comes_apart_into_the_same_words(path):
    words = ["planner", "load", path]
    assert windows_words(shell_command(words, "win32")) == words
    assert shlex.split(shell_command(words, "linux")) == words


def test_a_file_is_flushed_past_the_disk_s_cache_on_macos(tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(fcntl, "fcntl", lambda _, command: asked.append(command))
    monkeypatch.setattr(os, "fsync", lambda _: asked.append("fsync"))
    flush(3, "darwin")
    flush(3, "linux")
    assert asked == [51, "fsync"]


def test_a_disk_that_cannot_flush_so_is_synced(monkeypatch):
    def refuse(*_):
        raise OSError

    synced = []
    monkeypatch.setattr(fcntl, "fcntl", refuse)
    monkeypatch.setattr(os, "fsync", synced.append)
    flush(3, "darwin")
    assert synced == [3]


def test_what_a_system_does_not_offer_is_said(tmp_path):
    assert "whoever may open this folder" in key_warning(tmp_path, "win32")
    assert "whoever may open" not in key_warning(tmp_path, "linux")
    assert missing_limits("win32") == ("memory", "computing_time")
    assert missing_limits("darwin") == ("memory",)
