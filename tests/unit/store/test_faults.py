"""Full disks, folders that cannot be written, two commands at once: told, and no harm done."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

import pytest

from planner.errors import PlannerError, StoreError
from planner.paths import FIGURES_FILE, LOCK_FILE, REPORT_FOLDER, STORE_FILE
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.killing import COMMANDS, CONTEXT, copy_of, state
from tests.queries.given import frame

pytestmark = pytest.mark.thorough

NOON = dt.datetime(2026, 7, 1, 12)
NAMES = ("load", "undo", "erase", "restore", "backup", "report")
PLACE = "Compost à l'école"
DISK_BYTES = 64 << 20

on_posix = pytest.mark.skipif(sys.platform == "win32", reason="limits and users of POSIX")

CANNOT_BE_WRITTEN = ("cannot be written", "no se puede escribir")
"""As the store says it, and a report in the language of the sample's council."""


def told(name, folder):
    """Run a command and return what it says, as a kind and a text."""
    try:
        COMMANDS[name].act(folder)
    except PlannerError as error:
        return "told", str(error)
    except BaseException as error:
        return "raised", repr(error)
    return "done", ""


def in_child(act, *given):
    """Run a command in a process that may give up rights, and return what it says."""
    here, there = CONTEXT.Pipe()
    child = CONTEXT.Process(target=act, args=(*given, there))
    child.start()
    there.close()
    answer = here.recv()
    child.join()
    child.close()
    here.close()
    return answer


def with_small_files(name, folder, most_bytes, answer):
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
    answer.send(told(name, Path(folder)))


def check_unharmed(name, folder, given, answer):
    """Check that a command that met a fault did nothing, and does it all when there is none."""
    kind, text = answer
    assert kind == "told", text
    assert any(words in text for words in ("disk is full", *CANNOT_BE_WRITTEN))
    assert str(folder) in text
    # an erasure that is noted has happened for every reader, and goes on by itself
    left = state(folder)
    has_happened = name == "erase" or (left == given.states["after"] and "is restored" in text)
    assert has_happened or left == given.states["before"]
    COMMANDS[name].act(folder)
    assert state(folder) == given.states["after"]
    assert (folder / REPORT_FOLDER / FIGURES_FILE).exists() == (name == "report")
    assert not [path for path in folder.rglob("*") if path.suffix in (".new", ".draft", ".wal")]


@on_posix
@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("load", 0.5),
        ("load", 1.1),
        ("undo", 0.9),
        ("erase", 0.5),
        ("restore", 0.5),
        ("backup", 0.5),
    ],
)
def test_files_that_may_not_grow_are_told_as_a_full_disk(prepared, tmp_path, name, share):
    """Let files grow to a share of the size of the records, too little for the command."""
    given = prepared(name)
    folder = copy_of(given.folder, tmp_path / PLACE)
    most = int(share * (folder / STORE_FILE).stat().st_size)
    check_unharmed(name, folder, given, in_child(with_small_files, name, str(folder), most))


@pytest.fixture
def small_disk():
    """Mount a disk of a few megabytes, where that is allowed."""
    folder = Path(tempfile.mkdtemp())
    mount = shutil.which("mount")
    options = ["-t", "tmpfs", "-o", f"size={DISK_BYTES}", "tmpfs", str(folder)]
    asked = mount and subprocess.run([mount, *options], check=False, capture_output=True)
    if not asked or asked.returncode:
        folder.rmdir()
        pytest.skip("no disk can be mounted here")
    yield folder
    subprocess.run([shutil.which("umount"), str(folder)], check=True)
    folder.rmdir()


@on_posix
@pytest.mark.parametrize(
    ("name", "share"),
    [("load", 0.01), ("undo", 1.02), ("erase", 0.6), ("restore", 1.3), ("report", 0.01)],
)
def test_a_full_disk_is_told_and_the_store_goes_on_when_there_is_room(
    prepared, small_disk, name, share
):
    """Leave room for a part of the records, or for a little more than them."""
    given = prepared(name)
    folder = copy_of(given.folder, small_disk / PLACE)
    filler = small_disk / "filler"
    free_bytes = int(share * (folder / STORE_FILE).stat().st_size)
    filler.write_bytes(b"x" * (shutil.disk_usage(small_disk).free - free_bytes))
    answer = told(name, folder)
    filler.unlink()
    check_unharmed(name, folder, given, answer)


@contextmanager
def unwritable(disk, folder):
    """Make a folder one that cannot be written, whoever asks."""
    if os.geteuid() != 0:
        folder.chmod(0o555)
        yield
        folder.chmod(0o755)
        return
    command = [shutil.which("mount"), "-o"]
    subprocess.run([*command, "remount,ro", str(disk)], check=True)
    yield
    subprocess.run([*command, "remount,rw", str(disk)], check=True)


@pytest.fixture
def place(request, tmp_path):
    """Find a place whose folders can be made unwritable: for root, a disk of its own."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return request.getfixturevalue("small_disk") if is_root else tmp_path


@on_posix
@pytest.mark.parametrize("name", NAMES)
def test_a_folder_that_cannot_be_written_is_told(prepared, place, name):
    given = prepared(name)
    folder = copy_of(given.folder, place / PLACE)
    with unwritable(place, folder):
        kind, text = told(name, folder)
        assert state(folder) == given.states["before"]
    assert kind == "told", text
    # a restore unpacks the backup before it changes anything, and DuckDB cannot do that here
    how = ("cannot be opened or written",) if name == "restore" else CANNOT_BE_WRITTEN
    assert any(words in text for words in how)
    assert str(folder) in text


def take_in(folder, mark):
    with open_store(folder) as store, writing(store, written_at=NOON) as writer:
        load_id = writer.begin_load(f"{mark}.csv", mark)
        writer.write(load_id, "costs", frame("costs", [{"cost_id": mark}]))


def loads(folder):
    with open_store(folder, read_only=True) as store:
        return store.load_ids()


HOLD = """
import pathlib, sys
from planner.store.opening import open_store
sys.argv = ["planner", "load"]
with open_store(pathlib.Path(sys.stdin.readline().strip())):
    print("open", flush=True)
    sys.stdin.readline()
"""


@pytest.fixture
def other(tmp_path):
    """Have another command at work in a folder."""
    folder = tmp_path / PLACE
    folder.mkdir()
    take_in(folder, "first")
    with subprocess.Popen(
        [sys.executable, "-c", HOLD], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as command:
        command.stdin.write(f"{folder}\n")
        command.stdin.flush()
        assert command.stdout.readline() == "open\n"
        yield folder, command


def test_a_second_command_is_told_which_one_is_at_work_and_readers_go_on(other):
    folder, command = other
    with pytest.raises(StoreError, match=rf"planner load, process {command.pid}, since"):
        take_in(folder, "second")
    assert loads(folder) == ["L0001"]
    command.communicate("\n")
    take_in(folder, "second")
    assert loads(folder) == ["L0001", "L0002"]
    assert (folder / LOCK_FILE).read_text() == ""


def test_a_command_that_was_killed_holds_nothing(other):
    folder, command = other
    command.kill()
    command.wait()
    take_in(folder, "second")
    assert loads(folder) == ["L0001", "L0002"]
    assert not list(folder.glob("*.draft*"))
