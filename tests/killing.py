"""Kill commands at random moments, in processes of their own, and look at what they left.

Each command is run once to its end, which tells how much computing time it takes and what it
leaves. Then it is begun again and again on a fresh copy of the same folder, in a fork of a process
that has imported it, and killed with SIGKILL after a random part of that time: of its own computing
time, whatever else the machine does. Whatever the moment, the folder must open with all that the
command does, or with nothing of it.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import multiprocessing
import os
import shutil
import signal
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from planner import issuing, reporting
from planner.errors import StoreError
from planner.loading import load_files
from planner.paths import (
    BACKUP_FOLDER,
    PROGRAM_FILE,
    REPORT_FOLDER,
    STORE_FILE,
    TEMPLATES,
)
from planner.report.issues import altered_issues, read_issues
from planner.store import migrations as migrating
from planner.store import opening
from planner.store.connection import connect
from planner.store.erasing import pending_erasures
from planner.store.keeping import back_up, erase_households, restore_backup
from planner.store.migrations import utc_now
from planner.store.opening import open_store
from planner.store.queries import folder_queries
from planner.store.undoing import undo_load
from planner.store.writing import writing
from planner.tables import TABLES
from tests.queries.given import frame

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

HOUSEHOLDS = 2000
ERASED = "H7"
ERASED_NAME = "Wilhelmina Quillfeather"
MOST_SECONDS = 60
SPREAD = 1.05
"""Moments reach past the end: a command does not always take the same."""

LOOKED_SECONDS = 0.005
"""Between two looks at how much a command has computed; then it may go on for as long again."""

WRITES_NO_RECORDS = ("backup", "report", "issue")
OLD_FORM = 8
"""Migrations of the old store; a planner of that time knew no others."""


@dataclass(frozen=True)
class Command:
    """A command, and how the folder it works on is prepared."""

    name: str
    prepare: Callable[[Path], None]
    act: Callable[[Path], object]


@dataclass
class Findings:
    """What the kills of one command left: counts of "before" and "after", and faults."""

    seconds: float = 0.0
    kills: int = 0
    left: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Prepared:
    """A folder for a command to work on, and the states before it and after it."""

    command: Command
    folder: Path
    states: dict[str, str]


def prepare(command: Command, folder: Path) -> Prepared:
    """Prepare a command's folder within one, and run it once on a copy to know its end."""
    given = folder / "prepared"
    given.mkdir(parents=True)
    command.prepare(given)
    before = after = state(copy_of(given, folder / "untouched"))
    if command.name not in WRITES_NO_RECORDS:
        whole = copy_of(given, folder / "whole")
        command.act(whole)
        after = state(whole)
    return Prepared(command, given, {"before": before, "after": after})


def study(
    prepared: Prepared, kills: int, rng: np.random.Generator, folder: Path, look_at=None
) -> Findings:
    """Kill a command so many times at random moments; tell what was found."""
    command, look_at = prepared.command, look_at or look
    timed = copy_of(prepared.folder, folder / "timed")
    found = Findings(seconds=_run_to_its_end(command, timed))
    shutil.rmtree(timed)
    for number, moment in enumerate(rng.uniform(0.0, SPREAD * found.seconds, kills)):
        killed = copy_of(prepared.folder, folder / f"kill {number}")
        found.kills += _kill(command, killed, float(moment), float(rng.uniform(0, LOOKED_SECONDS)))
        look_at(killed, prepared.states, found, f"{command.name}, killed after {moment:.3f} s")
        shutil.rmtree(killed)
    return found


def state(folder: Path) -> str:
    """Digest of all that a folder holds: records, contacts, loads, refusals, program, report."""
    with duckdb.connect(folder / STORE_FILE, read_only=True) as program:
        if (forms := len(migrating.applied(program))) < len(folder_queries("schema")):
            return f"form {forms}"
    with open_store(folder, read_only=True) as store:
        tables = {name: store.records(name).rows() for name in TABLES}
        rest = (
            store.load_ids(),
            store.query("refusals").rows(),
            store.query("history").drop("replaced_at").rows(),
        )
    program = (folder / PROGRAM_FILE).read_bytes()
    return hashlib.sha256(repr((tables, rest, program)).encode()).hexdigest()


def look(folder: Path, states: dict[str, str], found: Findings, when: str) -> None:
    names = {digest: name for name, digest in states.items()}
    try:
        read = _state_or_again(folder)
        is_read = read is not None and not read.startswith("form ")
        is_hidden = is_read and _hides_what_is_being_erased(folder)
        with contextlib.suppress(_Again), _told_again(), open_store(folder):
            pass
        written = state(folder)
    except Exception as error:
        found.faults.append(f"{when}: {type(error).__name__}: {error}")
        return
    if written not in names:
        found.faults.append(f"{when}: part of it")
    elif read not in (None, written, f"form {OLD_FORM}") and not is_hidden:
        found.faults.append(f"{when}: readers saw another state first")
    found.left[names.get(written, "part")] += 1
    left_over = [path.name for path in folder.rglob("*") if _is_left_over(path, folder)]
    if left_over:
        found.faults.append(f"{when}: left {', '.join(sorted(left_over))}")
    if written == states["after"] and (folder / "erased").exists():
        found.faults += [f"{when}: {path} holds the name" for path in _holding(folder)]
    figures = folder / REPORT_FOLDER / "figures.json"
    if figures.exists():
        json.loads(figures.read_text(encoding="utf-8"))
    found.faults += [
        f"{when}: {words}" for words in altered_issues(folder, read_issues(folder)).values()
    ]


class _Again(Exception):  # noqa: N818 - not an error: the command says to run it again
    pass


@contextlib.contextmanager
def _told_again():
    try:
        yield
    except StoreError as error:
        if "Run this command again" in str(error):
            raise _Again from error
        raise


def _state_or_again(folder: Path) -> str | None:
    """State that a reader sees; None where the store says that it must be written first."""
    with contextlib.suppress(_Again), _told_again():
        return state(folder)
    return None


def _hides_what_is_being_erased(folder: Path) -> bool:
    """Tell whether an erasure is under way; then readers see no details of those households.

    It has happened with the note that asks for it. The other places are cleaned next, and again by
    the next command that writes, so that what a reader sees lies between the two states.
    """
    with open_store(folder, read_only=True) as store:
        asked = pending_erasures(store.program)["household_id"].to_list()
        seen = store.records("contacts")["household_id"].is_in(asked)
    return bool(asked) and not seen.any()


def _is_left_over(path: Path, folder: Path) -> bool:
    """Tell what the next command on the store clears; a list that was begun is written again."""
    is_list = path.parent == folder and path.name.endswith((".xlsx.new", ".html.new"))
    is_of_store = path.parent in (folder, folder / BACKUP_FOLDER) and not is_list
    is_begun = path.name.endswith((".new", ".draft", ".wal", ".tmp"))
    return is_of_store and (is_begun or path.name.startswith((".restore", ".opened-")))


def _holding(folder: Path) -> list[str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return [path.name for path in files if ERASED_NAME.encode() in path.read_bytes()]


def copy_of(prepared: Path, folder: Path) -> Path:
    copy = Path(shutil.copytree(prepared, folder))
    (copy / "backups.json").unlink(missing_ok=True)
    return copy


# -- processes ---------------------------------------------------------------------------

CONTEXT = multiprocessing.get_context("forkserver")
CONTEXT.set_forkserver_preload(["tests.killing"])


def _child(act: Callable[[Path], object], folder: str, begun: object) -> None:
    begun.send("begun")
    act(Path(folder))
    begun.send(time.process_time())


def _start(command: Command, folder: Path):
    # a function without a name cannot be sent: the other process finds it by its command's
    act = _Known(command.name) if COMMANDS.get(command.name) is command else command.act
    here, there = CONTEXT.Pipe()
    process = CONTEXT.Process(target=_child, args=(act, str(folder), there))
    process.start()
    there.close()
    assert here.recv() == "begun"
    return process, here


@dataclass(frozen=True)
class _Known:
    name: str

    def __call__(self, folder: Path) -> object:
        return COMMANDS[self.name].act(folder)


def _run_to_its_end(command: Command, folder: Path) -> float:
    """Run a command to its end; tell how much computing time it took."""
    process, here = _start(command, folder)
    seconds = here.recv()
    process.join(MOST_SECONDS)
    here.close()
    assert process.exitcode == 0
    process.close()
    return seconds


def _kill(command: Command, folder: Path, moment: float, more: float) -> bool:
    """Kill the command when it has computed so long; tell whether it had not ended by itself."""
    process, here = _start(command, folder)
    began = time.monotonic()
    while _computed(process.pid, began) < moment and process.is_alive():
        time.sleep(LOOKED_SECONDS)
    time.sleep(more)
    with contextlib.suppress(ProcessLookupError):
        os.kill(process.pid, signal.SIGKILL)
    process.join(MOST_SECONDS)
    here.close()
    was_killed = process.exitcode == -signal.SIGKILL
    process.close()
    return was_killed


def _computed(number: int, began: float) -> float:
    """Tell the computing time of a process; the clock's where the system does not."""
    try:
        told = Path(f"/proc/{number}/stat").read_text("utf-8").rpartition(")")[2].split()
    except OSError:
        return time.monotonic() - began
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


# -- folders and commands ----------------------------------------------------------------


def _program(folder: Path) -> None:
    shutil.copy(TEMPLATES / PROGRAM_FILE, folder / PROGRAM_FILE)


def _households() -> pl.DataFrame:
    keys = [f"H{number}" for number in range(HOUSEHOLDS)]
    return frame("households", [{"household_id": key, "area_id": "A"} for key in keys])


def _contacts(mark: str) -> pl.DataFrame:
    keys = pl.Series("household_id", [f"H{number}" for number in range(HOUSEHOLDS)])
    name = pl.when(pl.col("household_id") == ERASED).then(pl.lit(ERASED_NAME))
    return pl.DataFrame(keys).with_columns(
        name.otherwise(pl.format("Name {} of {}", "household_id", pl.lit(mark))).alias("full_name"),
        pl.format("{} {} Row", "household_id", pl.lit(mark)).alias("street_address"),
        pl.lit("0123").alias("postcode"),
    )


def _take_in(folder: Path, mark: str, rows: dict[str, pl.DataFrame]) -> None:
    with open_store(folder) as store, writing(store, written_at=dt.datetime(2026, 7, 1)) as writer:
        load_id = writer.begin_load(f"{mark}.csv", mark)
        for table, given in rows.items():
            writer.write(load_id, table, given)


def _one_load(folder: Path) -> None:
    _program(folder)
    rows = {"areas": frame("areas", [{"area_id": "A"}]), "households": _households()}
    _take_in(folder, "first", {**rows, "contacts": _contacts("first")})


def _files_to_load(folder: Path) -> None:
    _one_load(folder)
    rows = _households().with_columns(pl.lit(4).alias("people_count"))
    rows.drop("channel").write_csv(folder / "households.csv")
    _contacts("second").write_csv(folder / "contacts.csv")


def _two_loads(folder: Path) -> None:
    _one_load(folder)
    rows = {
        "households": _households().with_columns(pl.lit(4).alias("people_count").cast(pl.Int64))
    }
    _take_in(folder, "second", {**rows, "contacts": _contacts("second")})


def _one_to_erase(folder: Path) -> None:
    _two_loads(folder)
    back_up(folder, None, utc_now())
    (folder / "erased").touch()
    (folder / "refused").mkdir()
    _contacts("first").head(50).write_csv(folder / "refused" / "L0001.csv")


def _one_to_restore(folder: Path) -> None:
    _one_load(folder)
    back_up(folder, None, utc_now())
    (folder / PROGRAM_FILE).write_text("# another\n", encoding="utf-8")
    _take_in(folder, "second", {"contacts": _contacts("second")})


def _old_store(folder: Path) -> None:
    """Make a store as a planner would that knew the first migrations and no encryption."""
    _program(folder)
    known = {"schema": folder_queries("schema")[:OLD_FORM]}
    known["schema_contacts"] = folder_queries("schema_contacts")
    noon = dt.datetime(2026, 7, 1, 12)
    with connect(folder / STORE_FILE, read_only=False) as program:
        migrating.folder_queries = known.__getitem__
        migrating.migrate(program, "schema", folder / STORE_FILE, noon)
        program.execute("insert into store_identity values ('one mark')")
    migrating.folder_queries = folder_queries
    opening.draft_contacts(folder, "one mark", encrypt=False).publish()


def _loaded_sample(folder: Path) -> None:
    sample = TEMPLATES.parent / "sample_programs" / "valdorra"
    files = [path for path in sorted(sample.iterdir()) if path.suffix in (".xlsx", ".csv")]
    text = (sample / PROGRAM_FILE).read_text(encoding="utf-8")
    few = text.replace("draws_count = 1000", "draws_count = 100")  # the files are as many
    (folder / PROGRAM_FILE).write_text(few, encoding="utf-8")
    for outlines in sample.glob("*.geojson"):
        shutil.copy(outlines, folder)
    load_files(folder, files)


def _open_to_write(folder: Path) -> None:
    with open_store(folder):
        pass


COMMANDS = {
    command.name: command
    for command in (
        Command(
            "load",
            _files_to_load,
            lambda folder: load_files(folder, [folder / "households.csv", folder / "contacts.csv"]),
        ),
        Command("migration", _old_store, _open_to_write),
        Command("undo", _two_loads, lambda folder: undo_load(folder, "L0002", utc_now())),
        Command(
            "erase", _one_to_erase, lambda folder: erase_households(folder, [ERASED], utc_now())
        ),
        Command(
            "restore",
            _one_to_restore,
            lambda folder: restore_backup(
                folder, min((folder / BACKUP_FOLDER).glob("*.zip")), utc_now()
            ),
        ),
        Command("backup", _two_loads, lambda folder: back_up(folder, None, utc_now())),
        Command("report", _loaded_sample, reporting.report),
        Command(
            "issue", _loaded_sample, lambda folder: issuing.issue(folder, day=dt.date(2026, 8, 1))
        ),
    )
}
"""Every command that writes, but for those that are made of these."""
