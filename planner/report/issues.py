"""Reports that were given out: frozen with everything they rest on, and kept for ever.

An issue is a folder of its own: every file of the report, the program file, the published
factors, and a manifest with digests of these, of the files loaded and of the records. Each
manifest holds the digest of the one before, so that none can be changed or taken away unseen.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import ReportError
from planner.figures import read_register
from planner.paths import FACTORS, FIGURES_FILE, ISSUE_FILE, ISSUED_FOLDER, PROGRAM_FILE
from planner.tables import TABLES

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable

    from planner.figures import FigureRegister
    from planner.store import Store

READ_ONLY = 0o444
FACTORS_FOLDER = "factors"


@dataclass(frozen=True)
class Issue:
    """One report as it was given out.

    Parameters
    ----------
    number
        Counts the issues of a program from 1.
    issued_on, reporting_year, through_date, version
        Day of issue; year; last day that is covered where the year was running, else empty;
        version of the planner.
    draws_count, seed
        Behind the intervals.
    program_file, factors
        Digests of program.toml and of the published factors.
    loads
        Digest of each file by its load.
    records
        Digest of each record table.
    outputs
        Digest of each file of the report.
    previous
        Digest of the manifest of the issue before; empty for the first.
    """

    number: int
    issued_on: str
    reporting_year: str
    through_date: str
    version: str
    draws_count: int
    seed: int
    program_file: str
    factors: str
    loads: dict[str, str]
    records: dict[str, str]
    outputs: dict[str, str] = field(default_factory=dict)
    previous: str = ""

    @property
    def name(self) -> str:
        """Name of its folder."""
        return f"{self.number:04d}_{self.reporting_year}"


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
    same = [
        one
        for one in issues
        if one.reporting_year == register.reporting_year
        and one.through_date == register.through_date
    ]
    return same[-1] if same else None


def issued_register(folder: Path, issue: Issue) -> FigureRegister:
    """Read the figures of an issue."""
    path = folder / ISSUED_FOLDER / issue.name / FIGURES_FILE
    return read_register(path.read_text(encoding="utf-8"))


def begin_issue(folder: Path, store: Store, register: FigureRegister, issued_on: dt.date) -> Issue:
    """Give an issue its number and the digests of what it rests on; its files come later.

    Parameters
    ----------
    folder
        Program folder.
    store
        Its records.
    register
        Figures that are given out.
    issued_on
        Day of issue.
    """
    issues = read_issues(folder)
    loads = store.loads().select("load_id", "sha256").unique(maintain_order=True)
    return Issue(
        number=issues[-1].number + 1 if issues else 1,
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
        previous=digest(folder / ISSUED_FOLDER / issues[-1].name / ISSUE_FILE) if issues else "",
    )


def freeze(folder: Path, issue: Issue, files: Iterable[Path]) -> Path:
    """Copy a report with all it rests on to a folder of its own, whole or not at all.

    Parameters
    ----------
    folder
        Program folder.
    issue
        As `begin_issue` made it.
    files
        Files of the report.

    Returns
    -------
    Path
        Folder of the issue.

    Raises
    ------
    ReportError
        It cannot be written.
    """
    issued = folder / ISSUED_FOLDER
    try:
        issued.mkdir(exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=".new-", dir=issued))
        outputs = {}
        for file in files:
            shutil.copyfile(file, draft / file.name)
            outputs[file.name] = digest(draft / file.name)
        shutil.copyfile(folder / PROGRAM_FILE, draft / PROGRAM_FILE)
        shutil.copytree(FACTORS, draft / FACTORS_FOLDER, ignore=_not_tables)
        text = json.dumps({**asdict(issue), "outputs": outputs}, indent=1) + "\n"
        (draft / ISSUE_FILE).write_text(text, encoding="utf-8")
        for path in draft.rglob("*.*"):
            path.chmod(READ_ONLY)
        draft.chmod(0o755)
        return draft.replace(issued / issue.name)
    except OSError as error:
        message = f"{error.filename or issued}: cannot be written ({error.strerror})."
        raise ReportError(message, path=str(issued)) from error


def altered(folder: Path, issues: Iterable[Issue]) -> list[str]:
    """Say which issues are no longer what was given out; nothing where all are."""
    found, before = [], ""
    for one in issues:
        place = folder / ISSUED_FOLDER / one.name
        wrong = [name for name, mark in one.outputs.items() if digest(place / name) != mark]
        if digest(place / PROGRAM_FILE) != one.program_file:
            wrong.append(PROGRAM_FILE)
        if factors_digest(place / FACTORS_FOLDER) != one.factors:
            wrong.append(FACTORS_FOLDER)
        if one.previous != before:
            wrong.append("the issue before it")
        if wrong:
            found.append(f"Issue {one.number} is not what was given out: {', '.join(wrong)}.")
        before = digest(place / ISSUE_FILE)
    return found


def digest(path: Path) -> str:
    """SHA-256 of a file, of nothing where it is not there."""
    content = path.read_bytes() if path.is_file() else b""
    return hashlib.sha256(content).hexdigest()


def factors_digest(folder: Path = FACTORS) -> str:
    """SHA-256 over the tables of published factors and their sources."""
    files = sorted(path for path in folder.iterdir() if path.suffix in (".csv", ".toml"))
    marks = "\n".join(f"{path.name} {digest(path)}" for path in files)
    return hashlib.sha256(marks.encode()).hexdigest()


def records_digests(store: Store) -> dict[str, str]:
    """SHA-256 of each record table, written as CSV in the order of its key."""
    names = [name for name in TABLES if name != "contacts"]
    texts = {name: store.records(name).write_csv() for name in names}
    return {name: hashlib.sha256(text.encode()).hexdigest() for name, text in texts.items()}


def _read(path: Path) -> Issue:
    try:
        return Issue(**json.loads(path.read_text(encoding="utf-8")))
    except (ValueError, TypeError) as error:
        message = f"{path}: not the manifest of an issue. Put the folder back from a backup."
        raise ReportError(message, path=str(path)) from error


def _not_tables(_: str, names: list[str]) -> list[str]:
    return [name for name in names if Path(name).suffix not in (".csv", ".toml")]
