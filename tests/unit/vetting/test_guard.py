"""Whatever a task does in the process with limits, it ends in results or one sentence."""

from __future__ import annotations

import importlib
import sys

import pytest

from planner.errors import IntakeError
from planner.vetting.guard import MIB, Limits, guarded, limits_for, missing_limits

LIMITS = Limits(memory_bytes=600 * MIB, cpu_seconds=1, wall_seconds=20)
NAME = "rows.xlsx"
needs_limits = pytest.mark.skipif(
    bool(missing_limits(sys.platform)), reason="this system offers no limits to a process"
)

TASKS = """
import os, signal
def two(first, second):
    yield first
    yield second
def refuses():
    from planner.errors import IntakeError
    yield b"half"
    raise IntakeError("rows.xlsx: found nothing.")
def grows():
    yield b"a" * (1 << 40)
def spins():
    while True:
        pass
def dies():
    os.kill(os.getpid(), signal.SIGSEGV)
    yield b""
def recurses():
    yield recurses_deep()
def recurses_deep():
    return recurses_deep()
def prints():
    print("to nobody")
    yield repr(os.environ.get("PLANNER_KEY")).encode()
def writes(path):
    with open(path, "wb") as file:
        file.write(b"anything")
    yield b"written"
"""


@pytest.fixture(autouse=True)
def tasks(tmp_path, monkeypatch):
    (tmp_path / "tasks_of_test.py").write_text(TASKS)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "tasks_of_test", raising=False)


def run(tmp_path, name, *arguments, limits=LIMITS):
    path = tmp_path / NAME
    task = getattr(importlib.import_module("tasks_of_test"), name)
    return guarded(path, task, arguments, IntakeError, limits)


def test_results_come_back_in_their_order(tmp_path):
    assert run(tmp_path, "two", b"one", b"\x00" * 100_000) == [b"one", b"\x00" * 100_000]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("refuses", f"{NAME}: found nothing."),
        pytest.param("grows", "more than 0.59 GiB of memory", marks=needs_limits),
        pytest.param("spins", "reading takes longer", marks=needs_limits),
        ("dies", "breaks the reader"),
        ("recurses", "breaks the reader"),
    ],
)
def test_any_other_end_is_told_in_one_sentence_that_names_the_file(tmp_path, name, words):
    with pytest.raises(IntakeError, match=words) as caught:
        run(tmp_path, name)
    assert str(caught.value).startswith(NAME)
    assert "Traceback" not in str(caught.value)


def test_the_clock_ends_it_where_the_system_does_not(tmp_path):
    patient = LIMITS._replace(cpu_seconds=100, wall_seconds=1)
    with pytest.raises(IntakeError, match="reading takes longer"):
        run(tmp_path, "spins", limits=patient)


def test_it_is_not_given_the_key_and_what_it_prints_is_no_result(tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_KEY", "0123456789abcdef")
    assert run(tmp_path, "prints") == [b"None"]


@needs_limits
def test_it_can_write_no_file(tmp_path):
    with pytest.raises(IntakeError, match="breaks the reader"):
        run(tmp_path, "writes", str(tmp_path / "made.txt"))


def test_a_larger_file_is_given_more_time(tmp_path):
    small, large = tmp_path / "a", tmp_path / "b"
    small.write_bytes(b"")
    large.write_bytes(b"\x00" * 4 * MIB)
    assert limits_for(small).cpu_seconds < limits_for(large).cpu_seconds
    assert limits_for(small).memory_bytes == limits_for(large).memory_bytes
