"""Every command of the command line, killed at each moment at which it changes a folder.

A command is run once to its end while its folder is followed (tests/power_cuts.py): before and
after each rename, removal, new folder and flush to the disk, and before each file is opened to
be written, what is there is kept. That is what a kill at that moment leaves, for what a process
has written the system still has. So one run gives every kill between two of its steps. Of each
is asked: the store opens and holds all that the command does, or nothing of it; no file that a
person opens is half written; and the command, begun again, runs to its end.

The same commands are killed by SIGKILL at random moments of theirs too (`study_kills`), and asked
the same.

What a command writes straight into a file under the name that a person opens could be killed
within the writing. Such files are told apart by how they were opened, whatever moment was drawn.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import zipfile
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import typer
from typer.testing import CliRunner

from planner.cli import app
from planner.errors import PlannerError
from planner.paths import (
    CONTACTS_FILE,
    KEY_FILE,
    LOCK_FILE,
    PROGRAM_FILE,
    SAMPLE_PROGRAMS,
    STORE_FILE,
)
from tests.killing import Command, Findings, Prepared, copy_of, look, state, study
from tests.power_cuts import Disk, followed

if TYPE_CHECKING:
    import numpy as np

    from tests.power_cuts import Step

TOWN, DAY = "valdorra", "2026-07-05"
AGAIN = 4
"""One killed command of so many is begun again."""

WORDS: dict[str, list[str]] = {
    "acquit": ["FRL-22"],
    "backup": [],
    "check": [],
    "cases": ["--force"],
    "demo": ["{folder}/invented", "--town", TOWN],
    "due": ["--calendar", "{folder}/calendar/due.ics"],
    "duplicates": ["--force"],
    "erase": ["VD-00001", "VD-00002"],
    "events": ["--from", DAY, "--force"],
    "evidence": ["{folder}/my-evidence"],
    "export": [],
    "followup": ["--force"],
    "guide": ["{folder}/guide.html", "--force"],
    "issue": ["--date", DAY],
    "key": [],
    "load": ["{folder}/more.csv"],
    "look": ["{folder}/unknown.csv"],
    "new": ["{folder}/another", "--name", "Another", "--country", "fr_FR", "--year", "2026"],
    "nursery": ["--from", "2025-01-06", "--until", "2025-12-31"],
    "order": ["--from", DAY],
    "pool": ["{folder}/exports", "--out", "{folder}/pool"],
    "progress": ["--as-of", "2025-10-01"],
    "report": [],
    "restore": ["{folder}/backups/first.zip"],
    "retain": [],
    "routes": ["--day", "BY-VAN", "--force"],
    "sample": ["NEXT", "--kind", "followup", "--response", "0.6", "--opens", DAY],
    "sheet": [],
    "size": ["--year", "2026"],
    "undo": [f"L{len(list((SAMPLE_PROGRAMS / TOWN).glob('*.csv'))):04d}"],
    "withdraw": ["costs", "VD-L0001"],
}
"""Words of each command that writes into a program folder."""

WRITES_NOTHING = {
    "explain": ["kept_out_of_landfill_t"],
    "factors": ["landfill"],
    "feed": ["vegetable_scraps=1.2"],
    "figure": ["kept_out_of_landfill_t"],
    "loads": [],
    "sites": [],
    "workshops": [],
}
"""Commands that only read: that they change no file is tried as well."""

ALONE = ("demo", "guide", "new", "pool")
"""Commands that work on no program folder, and are given a place within one here."""

BLOCKS = """
[nursery]
bed_area_m2 = 60.0
worms_price_per_kg = 55.0

[delivery]
start_latitude = 41.96
start_longitude = -16.02
bins_per_vehicle = 3

[privacy]
contacts_retention_months = 12"""
ROUND = {
    "events": "event_id;event_date;places_count;event_kind\nBY-VAN;3/10/2026;20;delivery\n",
    "registrations": "household_id;registered_date;drop_point_id\n"
    + "".join(f"VD-{number:05};2/1/2024;VD-P{1 + number % 2}\n" for number in range(1, 9)),
    "bookings": "booking_id;household_id;event_id;offered_date;state\n"
    + "".join(f"V{number};VD-{number:05};BY-VAN;1/7/2026;accepted\n" for number in range(1, 9)),
}
"""A delivery round, of which the sample has none."""

_OWN_FILES = (STORE_FILE, CONTACTS_FILE, KEY_FILE)
"""Looked at by opening them; a key is drawn by chance."""

_WRITES = os.O_WRONLY | os.O_RDWR


def commands() -> set[str]:
    """Name every command that the command line has."""
    return set(typer.main.get_command(app).commands)


def run_words(name: str, words: list[str], folder: Path, ends: tuple[int, ...] = (0, 3)) -> int:
    """Run a command of the command line on a folder; tell its exit code, raising what is raised."""
    given = [word.format(folder=folder) for word in words]
    where = [] if name in ALONE else ["--program", str(folder)]
    result = CliRunner().invoke(app, [name, *given, *where])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    if result.exit_code not in ends:
        message = f"{name}: ended with {result.exit_code}: {result.output[-600:]}"
        raise RuntimeError(message)
    return result.exit_code


def prepare_folder(folder: Path) -> None:
    """Load a sample town, back it up, report it and export it, so that there is much to lose."""
    sample = SAMPLE_PROGRAMS / TOWN
    folder.mkdir(parents=True)
    text = (sample / PROGRAM_FILE).read_text(encoding="utf-8")
    text = text.replace("draws_count = 1000", "draws_count = 100")
    # the town's own plan asks for a target that fits no plan with few draws
    text = text.replace("least_cost", "most_tonnes", 1).replace("[privacy]", BLOCKS)
    (folder / PROGRAM_FILE).write_text(text, encoding="utf-8")
    shutil.copy(sample / "areas.geojson", folder)
    files = [str(path) for path in sorted(sample.glob("*.csv"))]
    run_words("load", [path for path in files if not path.endswith("costs.csv")], folder)
    run_words("load", [path for path in files if path.endswith("costs.csv")], folder)
    for table, text in ROUND.items():
        (folder / f"{table}.csv").write_text(text, encoding="utf-8")
        run_words("load", [str(folder / f"{table}.csv")], folder)
    run_words("report", [], folder)
    run_words("export", [], folder)
    run_words("backup", [], folder)
    (made,) = (folder / "backups").glob("*.zip")
    made.rename(made.with_name("first.zip"))
    (folder / "calendar").mkdir()
    (folder / "more.csv").write_text("cost_id,cost_date,category,amount\nX1,1/7/2025,bins,5\n")
    (folder / "unknown.csv").write_text("Num;Fecha;Clase;Importe\nX1;1/7/2025;bins;5\n")


@dataclass
class Followed:
    """A command's run: its moments, and the files it wrote straight into their place."""

    steps: list[Step] = field(default_factory=list)
    written_in_place: set[str] = field(default_factory=set)
    folder: Path = Path()
    code: int = 0


_LISTENERS: list = []


def _listen(event: str, given: tuple) -> None:
    if event == "open" and _LISTENERS:
        _LISTENERS[-1](given)


def follow(name: str, words: list[str], folder: Path) -> Followed:
    """Run a command to its end and keep what was there at each moment."""
    if not _LISTENERS:
        sys.addaudithook(_listen)
    opened: set[Path] = set()
    found = Followed(folder=folder.resolve())
    with followed(folder) as disk, _opening(found.folder, disk, opened):
        found.code = run_words(name, words, folder)
    found.steps = disk.steps
    renamed = disk.renamed_to
    there = {path for path in opened if path.is_file() and path not in renamed}
    found.written_in_place = {str(path.relative_to(found.folder)) for path in there}
    return found


@contextmanager
def _opening(folder: Path, disk: Disk, opened: set[Path]):
    """Keep what was there before each file of a folder is opened to be written."""

    def heard(given: tuple) -> None:
        path, mode, flags = given
        if not isinstance(path, (str, os.PathLike)):
            return
        is_written = bool(flags & _WRITES) if mode is None else bool(set(mode) & set("wax+"))
        at = Path(path).absolute()
        # opened to have it flushed, not written: the flush is a moment of its own
        is_lock = at == folder / LOCK_FILE
        if is_written and mode != "rb+" and folder in at.parents and not is_lock:
            opened.add(at)
            _LISTENERS.append(lambda _: None)
            disk.note()
            _LISTENERS.pop()

    _LISTENERS.append(heard)
    try:
        yield
    finally:
        _LISTENERS.remove(heard)


def leave_killed(step: Step, disk_folder: Path, folder: Path) -> None:
    """Write what a kill leaves at a moment into a folder."""
    for name, files in step.names[-1].items():
        into = folder / Path(name).relative_to(disk_folder)
        into.mkdir(parents=True, exist_ok=True)
        for file, number in files.items():
            (into / file).write_bytes(step.present[number])


def study_points(
    name: str, prepared: Path, before: str, kills: int, rng: np.random.Generator, place: Path
) -> Findings:
    """Kill a command at so many of its moments, the first and the last among them."""
    whole = Path(shutil.copytree(prepared, place / "whole"))
    run = follow(name, WORDS[name], whole)
    states = {"after": state(whole), "before": before}
    found = Findings()
    in_place = sorted(file for file in run.written_in_place if not file.endswith(LOCK_FILE))
    found.faults += [f"{name}: writes into {file} itself" for file in in_place]
    last = len(run.steps) - 1
    inner = rng.permutation(range(1, last))[: max(kills - 2, 0)].tolist()
    for number in sorted({0, last, *inner}):
        killed = place / "killed"
        leave_killed(run.steps[number], run.folder, killed)
        when = f"{name}, killed at {number} of {last}"
        torn = torn_files(killed, prepared, whole)
        found.faults += [f"{when}: {file} is half written" for file in torn]
        look(killed, states, found, when)
        found.kills += 1
        shutil.rmtree(killed)
    for number in (last // 3, 2 * last // 3):
        killed = place / "begun again"
        leave_killed(run.steps[number], run.folder, killed)
        when = f"{name}, begun again after {number} of {last}"
        found.faults += [f"{when}: {error}" for error in _fails_again(name, killed)]
        shutil.rmtree(killed)
    shutil.rmtree(whole)
    return found


@dataclass(frozen=True)
class Act:
    """What a forked process runs: a command of the command line, by its name."""

    name: str

    def __call__(self, folder: Path) -> int:
        return run_words(self.name, WORDS[self.name], folder)


def study_kills(
    name: str, prepared: Path, before: str, kills: int, rng: np.random.Generator, place: Path
) -> Findings:
    """Kill a command of the command line at random moments, in a process that runs it."""
    act = Act(name)
    whole = copy_of(prepared, place / "whole")
    act(whole)
    states = {"after": state(whole), "before": before}

    def look_at(killed: Path, states: dict[str, str], found: Findings, when: str) -> None:
        torn = torn_files(killed, prepared, whole)
        found.faults += [f"{when}: {file} is half written" for file in torn]
        look(killed, states, found, when)
        if found.kills % AGAIN == 0:
            found.faults += [
                f"{when}, begun again: {error}" for error in _fails_again(name, killed)
            ]

    given = Prepared(Command(name, lambda _: None, act), prepared, states)
    found = study(given, kills, rng, place, look_at)
    shutil.rmtree(whole)
    return found


def _fails_again(name: str, folder: Path) -> list[str]:
    try:
        _run_again(name, folder)
    except (RuntimeError, PlannerError) as error:
        return [str(error)]
    return []


SAID_SO = (
    *("undone already", "ya se deshizo"),
    *("`planner demo DIR`", "`planner demo CARPETA`"),
)
"""What a command says that cannot be begun again in the same words, in English or the town's."""


def _run_again(name: str, folder: Path) -> None:
    """Run a command on what its kill left, as the officer would: with --force where it asks so."""
    try:
        run_words(name, WORDS[name], folder)
    except RuntimeError as error:
        if "--force" in str(error):
            run_words(name, [*WORDS[name], "--force"], folder)
        elif not any(words in str(error) for words in SAID_SO):
            raise


def torn_files(killed: Path, before: Path, after: Path) -> list[str]:
    """Name the files that a person would open and that are neither as before nor as after."""
    torn = []
    for path in killed.rglob("*"):
        inner = path.relative_to(killed)
        is_begun = any(part.startswith(".") or ".new" in part or ".draft" in part
                       for part in inner.parts)  # fmt: skip
        if not path.is_file() or is_begun or path.name.startswith(_OWN_FILES):
            continue
        wholes = [other / inner for other in (before, after) if (other / inner).is_file()]
        if all(whole.read_bytes() != path.read_bytes() for whole in wholes):
            torn += [] if _is_whole(path) else [str(inner)]
    return torn


def _is_whole(path: Path) -> bool:
    """Tell a workbook, document, calendar or receipt of another second from one half written."""
    if path.suffix == ".ics":
        return path.read_bytes().endswith(b"END:VCALENDAR\r\n")
    if path.suffix == ".json":
        with suppress(ValueError):
            return bool(json.loads(path.read_bytes()))
    with suppress(zipfile.BadZipFile), zipfile.ZipFile(path) as archive:
        return archive.testzip() is None
    return False
