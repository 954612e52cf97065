"""Reports that were given out: frozen with everything they rest on, and kept for ever.

An issue is a folder of its own: every file of the report, the program file, the published
factors, and a manifest with digests of these, of the files loaded and of the records. Each
manifest holds the digest of the one before, so that none can be changed or taken away unseen.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path

import polars as pl

from planner.errors import ReportError
from planner.figures import FigureRegister, read_register
from planner.messages import say
from planner.paths import FACTORS, FIGURES_FILE, ISSUE_FILE, ISSUED_FOLDER, PROGRAM_FILE
from planner.program import read_program
from planner.store.files import disk_faults, sync_folder
from planner.store.issued import protect_issue, record_issue
from planner.store.opening import Store
from planner.tables import TABLES

FACTORS_FOLDER = "factors"
ISSUES_COMPARED = 24
"""The newest issues that an output is held against: each costs a query and linear programs."""

NEW = ".new-"
"""An issue in the making; one that is left over means nothing."""


@dataclass(frozen=True)
class Issue:
    """One report as it was given out."""

    number: int  # counts the issues of a program from 1
    issued_on: str  # day of issue
    reporting_year: str  # year
    through_date: str  # last day that is covered where the year was running, else empty
    version: str  # version of the planner
    # behind the intervals
    draws_count: int
    seed: int
    # digests of program.toml and of the published factors
    program_file: str
    factors: str
    loads: dict[str, str]  # digest of each file by its load
    records: dict[str, str]  # digest of each record table
    outputs: dict[str, str] = field(default_factory=dict)  # digest of each file of the report
    previous: str = ""  # digest of the manifest of the issue before; empty for the first
    # name and digest of the file of the areas' outlines; empty where there is none
    boundaries: dict[str, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Name of its folder."""
        return f"{self.number:04d}_{self.reporting_year}"

    @property
    def place(self) -> str:
        """Its folder, from the program folder on."""
        return f"{ISSUED_FOLDER}/{self.name}"

    @property
    def frozen(self) -> dict[str, str]:
        """Digest of each file of its folder but the factors and the manifest."""
        outlines = {Path(name).name: mark for name, mark in self.boundaries.items()}
        return {**self.outputs, **outlines, PROGRAM_FILE: self.program_file}


def read_issues(folder: Path) -> tuple[Issue, ...]:
    """Read the manifests of all issues of a program, the first first.

    Raises
    ------
    ReportError
        A manifest is not one.
    """
    paths = sorted((folder / ISSUED_FOLDER).glob(f"[0-9]*/{ISSUE_FILE}"))
    return tuple(_read(path) for path in paths)


def newest_of(issues: Iterable[Issue], register: FigureRegister) -> Issue | None:
    """Find the newest issue of a register's year that covers the same time."""
    ends = (register.reporting_year, register.through_date)
    same = [one for one in issues if (one.reporting_year, one.through_date) == ends]
    return same[-1] if same else None


def issued_register(folder: Path, issue: Issue) -> FigureRegister:
    """Read the figures of an issue."""
    return read_register((folder / issue.place / FIGURES_FILE).read_text(encoding="utf-8"))


def issued_registers(folder: Path, issues: Sequence[Issue]) -> tuple[FigureRegister, ...]:
    """Read the figures of the newest issues whose folders are there."""
    there = (one for one in issues if (folder / one.place / FIGURES_FILE).exists())
    return tuple(issued_register(folder, one) for one in list(there)[-ISSUES_COMPARED:])


def begin_issue(folder: Path, store: Store, register: FigureRegister, issued_on: dt.date) -> Issue:
    """Give an issue its number and the digests of what it rests on; its files come later."""
    issues = read_issues(folder)
    noted = store.query("listed_issues")["number"].to_list()
    loads = store.query("loads").select("load_id", "sha256").unique(maintain_order=True)
    drawn = read_program(folder / PROGRAM_FILE).map
    return Issue(
        # a number that was given out is never used again, even where its folder is gone
        number=1 + max([*noted, *(one.number for one in issues)], default=0),
        issued_on=f"{issued_on:%Y-%m-%d}",
        reporting_year=register.reporting_year,
        through_date=register.through_date,
        version=register.version,
        draws_count=register.draws_count,
        seed=register.seed,
        program_file=digest(folder / PROGRAM_FILE),
        factors=factors_digest(),
        loads=dict(loads.iter_rows()),
        records=records_digests(store),
        outputs={FIGURES_FILE: hashlib.sha256(register.to_json().encode()).hexdigest()},
        previous=digest(folder / issues[-1].place / ISSUE_FILE) if issues else "",
        boundaries={drawn.boundaries: digest(folder / drawn.boundaries)} if drawn else {},
    )


def freeze(folder: Path, issue: Issue, files: Iterable[Path]) -> Path:
    """Copy a report with all it rests on to a folder of its own, whole or not at all."""
    with frozen_folder(folder / issue.place) as draft:
        outputs = {}
        for file in files:
            shutil.copyfile(file, draft / file.name)
            outputs[file.name] = digest(draft / file.name)
        for name in (PROGRAM_FILE, *issue.boundaries):
            shutil.copyfile(folder / name, draft / Path(name).name)
        shutil.copytree(FACTORS, draft / FACTORS_FOLDER, ignore=_not_tables)
        text = json.dumps({**asdict(issue), "outputs": outputs}, indent=1) + "\n"
        (draft / ISSUE_FILE).write_text(text, encoding="utf-8")
    return folder / issue.place


@contextmanager
def frozen_folder(place: Path) -> Iterator[Path]:
    """Give a folder to fill; put it in its place, closed to writing, once it is complete."""
    issued = place.parent
    with disk_faults(issued, "file.unwritten", ReportError, by_file=True):
        issued.mkdir(exist_ok=True)
        for left in issued.glob(f"{NEW}*"):
            shutil.rmtree(left, ignore_errors=True)
        draft = Path(tempfile.mkdtemp(prefix=NEW, dir=issued))
        try:
            yield draft
            draft.chmod(0o755)
            protect_issue(draft)
            draft.replace(place)
        finally:
            shutil.rmtree(draft, ignore_errors=True)
        sync_folder(issued)


def note_issues(folder: Path, store: Store, noted_at: dt.datetime) -> None:
    """Note every issue of a folder in its records at a time, UTC; those noted stay as they are."""
    for one in read_issues(folder):
        mark = digest(folder / one.place / ISSUE_FILE)
        record_issue(store, one.number, one.name, mark, noted_at)


def altered_issues(
    folder: Path, issues: Iterable[Issue], noted: pl.DataFrame | None = None
) -> dict[int, str]:
    """Say by number which issues are no longer what was given out; nothing where all are.

    `noted` is query listed_issues: what the records say was given out.
    """
    found, before, marks = {}, "", {}
    for one in issues:
        place = folder / one.place
        wrong = [name for name, mark in one.frozen.items() if digest(place / name) != mark]
        if factors_digest(place / FACTORS_FOLDER) != one.factors:
            wrong.append(FACTORS_FOLDER)
        if one.previous != before:
            wrong.append(say("issued.before"))
        before = marks[one.number] = digest(place / ISSUE_FILE)
        if wrong:
            found[one.number] = _altered_words(one.number, ", ".join(wrong))
    for row in noted.iter_rows(named=True) if noted is not None else ():
        number, mark = row["number"], marks.get(row["number"])
        if mark is None:
            words = {"number": str(number), "name": row["name"], "folder": ISSUED_FOLDER}
            found[number] = say("issued.missing", **words, back=say("issued.put_back"))
        elif mark != row["manifest_sha256"]:
            found.setdefault(number, _altered_words(number, ISSUE_FILE))
    return dict(sorted(found.items()))


def _altered_words(number: int, names: str) -> str:
    return say("issued.altered", number=str(number), names=names, back=say("issued.put_back"))


def digest(path: Path) -> str:
    """SHA-256 of a file, of nothing where it is not there."""
    content = path.read_bytes() if path.is_file() else b""
    return hashlib.sha256(content).hexdigest()


def factors_digest(folder: Path = FACTORS) -> str:
    """SHA-256 over the tables of published factors and their sources."""
    inside = folder.iterdir() if folder.is_dir() else ()
    files = sorted(path for path in inside if path.suffix in (".csv", ".toml"))
    marks = "\n".join(f"{path.name} {digest(path)}" for path in files)
    return hashlib.sha256(marks.encode()).hexdigest()


def records_digests(store: Store) -> dict[str, str]:
    """SHA-256 of each record table, written as CSV in the order of its key.

    Columns in which nothing stands are left out: one that a newer planner adds changes no record.
    """
    found = {}
    for name in TABLES:
        if name != "contacts":
            rows = store.records(name)
            text = rows[[one.name for one in rows if one.null_count() < rows.height]].write_csv()
            found[name] = hashlib.sha256(text.encode()).hexdigest()
    return found


def _read(path: Path) -> Issue:
    try:
        return Issue(**json.loads(path.read_text(encoding="utf-8")))
    except (ValueError, TypeError) as error:
        raise ReportError(say("issued.no_manifest", file=str(path)), path=str(path)) from error


def _not_tables(_: str, names: list[str]) -> list[str]:
    return [name for name in names if Path(name).suffix not in (".csv", ".toml")]
